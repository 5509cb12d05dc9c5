import { mean } from 'simple-statistics'
import type { Cause } from '../../../src/model/vocabulary.js'
import { ln } from '../../../src/statistics/distributions.js'
import type { CauseView } from './cases.js'
import type { FaultKind } from './fleet.js'
import { reliabilityBins, type ReliabilityBin } from './reliability.js'
import { type Share, shareOf } from './share.js'

/** What was stated of a cause, beside the truth and the best that could be stated. */
export interface CauseRecord extends CauseView {
  readonly oracle?: Readonly<Record<FaultKind, number>>
}

export interface Score {
  /** Mean of −ln of what was stated of the truth, at least 0.001. */
  readonly logLoss: number
  /** Mean sum of squares over the causes (Brier 1950, Monthly Weather Review 78:1). */
  readonly brier: number
}

export interface CauseScores {
  readonly n: number
  readonly ours: Score | null
  /** The records that have an oracle, so that both are scored on the same. */
  readonly beside: { readonly n: number; readonly ours: Score; readonly oracle: Score } | null
  /** By truth and by what was named: the likeliest cause, or undecided below 0.9. */
  readonly confusion: Readonly<Record<string, Readonly<Record<string, number>>>>
  readonly reliability: readonly ReliabilityBin[]
  /** Rightly named where the oracle is sure. */
  readonly rightWhereSure: Share
  /** Rightly ranked first, named or not, where the oracle is sure. */
  readonly firstWhereSure: Share
  /** Undecided where the oracle is not sure. */
  readonly undecidedWhereUnsure: Share
}

export const CAUSES_OF_GRID = ['zero_drift', 'span_drift', 'fouling'] as const
const KINDS = { zero_drift: 'zero', span_drift: 'span', fouling: 'fouling' } as const
/** A cause is named from this probability on. */
const SURE = 0.9
const LEAST_PROBABILITY = 1e-3

type Stated = CauseView['stated']

/** Scores stated causes against the truth and beside the oracle. */
export function scoreCauses(records: readonly CauseRecord[]): CauseScores {
  const beside = records.flatMap(({ truth, stated, oracle }) =>
    oracle === undefined ? [] : [{ truth, stated, best: causesOf(oracle) }],
  )
  const sure = beside.filter(({ best }) => named(best) !== 'undecided')
  const unsure = beside.filter(({ best }) => named(best) === 'undecided')
  const ours = score(beside)
  const oracle = score(beside.map(({ truth, best }) => ({ truth, stated: best })))
  return {
    n: records.length,
    ours: score(records),
    beside: ours === null || oracle === null ? null : { n: beside.length, ours, oracle },
    confusion: confusion(records),
    reliability: reliabilityBins(
      records.flatMap(({ truth, stated }) =>
        stated.map(({ cause, probability }) => ({ probability, isTrue: cause === truth })),
      ),
    ),
    rightWhereSure: shareOf(sure, ({ truth, stated }) => named(stated) === truth),
    firstWhereSure: shareOf(sure, ({ truth, stated }) => likeliest(stated)?.cause === truth),
    undecidedWhereUnsure: shareOf(unsure, ({ stated }) => named(stated) === 'undecided'),
  }
}

function causesOf(oracle: Readonly<Record<FaultKind, number>>): Stated {
  return CAUSES_OF_GRID.map(cause => ({ cause, probability: oracle[KINDS[cause]] }))
}

function score(records: readonly CauseView[]): Score | null {
  if (records.length === 0) return null
  return {
    logLoss: mean(records.map(({ truth, stated }) => -ln(Math.max(LEAST_PROBABILITY, probabilityOf(truth, stated))))),
    brier: mean(records.map(({ truth, stated }) => squares(truth, stated))),
  }
}

function squares(truth: Cause, stated: Stated): number {
  const causes = new Set([truth, ...stated.map(({ cause }) => cause)])
  return [...causes].reduce((sum, cause) => {
    const off = probabilityOf(cause, stated) - (cause === truth ? 1 : 0)
    return sum + off * off
  }, 0)
}

function probabilityOf(cause: Cause, stated: Stated): number {
  return stated.find(one => one.cause === cause)?.probability ?? 0
}

function likeliest(stated: Stated): Stated[number] | undefined {
  return stated.reduce<Stated[number] | undefined>(
    (top, one) => (top === undefined || one.probability > top.probability ? one : top),
    undefined,
  )
}

function named(stated: Stated): Cause {
  const top = likeliest(stated)
  return top !== undefined && top.probability >= SURE ? top.cause : 'undecided'
}

function confusion(records: readonly CauseView[]): Record<string, Record<string, number>> {
  const counts: Record<string, Record<string, number>> = {}
  for (const cause of CAUSES_OF_GRID) counts[cause] = { zero_drift: 0, span_drift: 0, fouling: 0, undecided: 0 }
  for (const { truth, stated } of records) {
    const row = (counts[truth] ??= {})
    const said = named(stated)
    row[said] = (row[said] ?? 0) + 1
  }
  return counts
}
