import type { CorrectionData } from '../model/events.js'
import type { Analyzer } from '../model/plant.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant, sayInstant } from '../model/time.js'
import { type Correction, correctionAt } from '../recommend/correction.js'
import { correctionData } from '../recommend/correctionData.js'
import { blocksOf } from './explainBlocks.js'
import type { PlantState } from './plantState.js'
import type { UnitFold } from './pointState.js'

/** What the record of one analyzer should have been, side by side with what it is. Advice: nothing is changed. */
export interface CorrectedRecord {
  readonly analyzer: string
  /** Newest last; they add up where they overlap. */
  readonly corrections: readonly CorrectionSaid[]
  /** Begin of the kept blocks: for older time there is the formula alone. RFC 3339. */
  readonly blocksFrom: string | null
  readonly rows: readonly ProposedValue[]
}

export interface CorrectionSaid extends CorrectionData {
  readonly serial?: string
}

/** One 15-minute block. NTU, rounded. */
export interface ProposedValue {
  /** End of the block, RFC 3339. */
  readonly time: string
  readonly originalNtu: number
  readonly proposedNtu: number
  readonly ci95: readonly [number, number]
  readonly reason: string
}

const Z95 = 1.959964

/** From the visits on record, as far as blocks are kept; undefined where the register does not know the analyzer. */
export function correctedRecord(state: PlantState, analyzer: string): CorrectedRecord | undefined {
  const known = state.register?.plant.analyzers.get(analyzer)
  const point = state.points.get(known?.point ?? '')
  const i = state.register?.plant.points.get(known?.point ?? '')?.analyzers.indexOf(analyzer) ?? -1
  const own = point?.analyzers[i]
  const unit = point?.fold.units[i]
  if (known === undefined || point === undefined || own === undefined || unit === undefined) return undefined
  const { corrections } = unit.work
  const blocks = blocksOf(point, own, unit, state.workedMs)
  const [first] = blocks
  return {
    analyzer,
    corrections: correctionsOf(unit, known),
    blocksFrom: first === undefined ? null : formatInstant(first.endMs),
    rows: blocks.flatMap(({ endMs, medianNtu, usable }) => (usable ? proposalFor(corrections, endMs, medianNtu) : [])),
  }
}

/** Each correction that visits of an analyzer support, newest last. */
export function correctionsOf({ work }: UnitFold, analyzer: Analyzer): CorrectionSaid[] {
  return work.corrections.map(one => {
    const data = correctionData(one, analyzer)
    return one.serial === null ? data : { ...data, serial: one.serial }
  })
}

/** Nothing for a block that no correction is for. */
function proposalFor(corrections: readonly Correction[], endMs: number, originalNtu: number): ProposedValue[] {
  let ntu = 0
  let variance = 0
  const reasons: string[] = []
  for (const correction of corrections) {
    const part = correctionAt(correction, originalNtu, endMs)
    if (part.ntu === 0 && part.uNtu === 0) continue
    ntu += part.ntu
    variance += part.uNtu * part.uNtu
    reasons.push(reasonOf(correction, endMs))
  }
  if (reasons.length === 0) return []
  const rounded = (value: number): number => roundTo(value, DIGITS.ntu)
  const reach = Z95 * Math.sqrt(variance)
  return [
    {
      time: formatInstant(endMs),
      originalNtu: rounded(originalNtu),
      proposedNtu: rounded(originalNtu + ntu),
      ci95: [rounded(originalNtu + ntu - reach), rounded(originalNtu + ntu + reach)],
      reason: reasons.join('; '),
    },
  ]
}

const PART_WORDS = { film: 'film', calibration: 'calibration error', bias: 'bias shown by grab samples' } as const

function reasonOf({ parts, visitMs }: Correction, endMs: number): string {
  const named = parts.filter(part => endMs > part.fromMs).map(part => PART_WORDS[part.kind])
  return `${named.join(' and ')} found on ${sayInstant(visitMs)}`
}
