import type { WorkVerdictData } from '../model/events.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { formatInstant, sayInstant } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { judgeProof, type Judgement, type Proof } from '../recommend/proof.js'
import { sayNtu, WORK_WORDS } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import { openBias } from './openBias.js'
import type { PointState, UnitFold } from './pointState.js'

/** Judges work by the pairs after it: confirmed closes, not confirmed reopens, a fortnight without an answer is undecided. */
export function concludeProof(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  endMs: number,
): void {
  const { proof } = unit
  if (proof === null) return
  const judged = judgeProof(proof, endMs)
  if (judged.verdict === undefined) return
  unit.proof = null
  const proven = judged.verdict === 'confirmed' && proof.contradictions.length === 0
  const verdict = judged.verdict === 'confirmed' && !proven ? 'undecided' : judged.verdict
  state.fold.notes.push({
    key: `proof ${context.analyzers[i]?.id ?? ''} ${String(proof.workMs)} ${proof.action}`,
    atMs: endMs,
    type: `work.${verdict}`,
    data: verdictData(context, unit, i, proof, judged, verdict),
  })
  if (verdict === 'confirmed') {
    end(unit, endMs, 'closed', `the ${WORK_WORDS[proof.action]} of ${sayInstant(proof.workMs)} is confirmed`)
  } else if (verdict === 'undecided') {
    if (unit.case?.phase === 'awaiting_proof')
      end(
        unit,
        endMs,
        'closed',
        `the ${WORK_WORDS[proof.action]} of ${sayInstant(proof.workMs)} could be neither confirmed nor refuted`,
      )
  } else {
    unit.failed = [...unit.failed, proof.action]
    if (proof.action === 'zero') noteZeroWater(context, state, unit, i, proof, judged, endMs)
    if (unit.estimate === null) return
    const before = unit.case
    openBias(context, state, unit, i, endMs)
    if (unit.case !== null && before !== null) unit.case = { ...unit.case, openedMs: before.openedMs }
  }
}

function end(unit: UnitFold, endMs: number, how: 'closed', reason: string): void {
  unit.failed = []
  unit.zeroWaterSuspect = false
  if (unit.case?.kind !== 'bias') return
  unit.case = null
  unit.ended = { atMs: endMs, how, reason }
}

function verdictData(
  context: PointContext,
  unit: UnitFold,
  i: number,
  proof: Proof,
  judged: Judgement,
  verdict: 'confirmed' | 'not_confirmed' | 'undecided',
): Omit<WorkVerdictData, 'recommendation'> {
  const analyzer = context.analyzers[i]
  const toleranceNtu = toleranceAt(analyzer?.tolerance ?? context.point.tolerance, unit.levelNtu ?? 0)
  const ntu = (tolerances: number): number => roundTo(tolerances * toleranceNtu, DIGITS.ntu)
  const work = `${WORK_WORDS[proof.action]} of ${sayInstant(proof.workMs)}`
  const id = analyzer?.id ?? ''
  const pairs = proof.residuals.length
  const after = `${sayNtu(Math.abs(ntu(judged.mean)))} NTU ${judged.mean < 0 ? 'low' : 'high'} (tolerance ${sayNtu(toleranceNtu)})`
  const because: string[] = [...proof.visit]
  let summary: string
  if (verdict === 'confirmed') summary = `${id}: the ${work} helped; ${String(pairs)} grabs since put it at ${after}.`
  else if (verdict === 'not_confirmed')
    summary = `${id}: the ${work} ${worsened(proof, judged) ? 'made it worse' : 'did not put it right'}; ${String(pairs)} grabs since put it at ${after}.`
  else if (proof.contradictions.length > 0) {
    summary = `${id}: the ${work} is no proof, although ${String(pairs)} grabs put it at ${after}: ${proof.contradictions[0] ?? ''}.`
    because.push(...proof.contradictions)
  } else {
    summary = `${id}: whether the ${work} helped is not known after a fortnight with ${String(pairs)} grabs; four grab samples would settle it.`
    because.push('four grab samples, half an hour or more apart, would settle it')
  }
  if (verdict === 'not_confirmed')
    because.push('the 95 % interval of the mean difference lies beyond half the tolerance')
  if (verdict === 'confirmed') because.push('the 90 % interval of the mean difference lies inside 0.8 tolerance')
  return {
    summary,
    notify: 'shift_summary',
    analyzer: id,
    point: context.point.id,
    work: {
      at: formatInstant(proof.workMs),
      action: proof.action,
      ...(proof.workId === null ? {} : { id: proof.workId }),
    },
    pairs,
    ...(proof.before === null
      ? {}
      : {
          before: {
            value: ntu(proof.before.value),
            ci95: [ntu(proof.before.value - proof.before.half), ntu(proof.before.value + proof.before.half)] as [
              number,
              number,
            ],
          },
        }),
    ...(pairs === 0
      ? {}
      : {
          after: {
            value: ntu(judged.mean),
            ci95: [ntu(judged.mean - 1.96 * judged.u), ntu(judged.mean + 1.96 * judged.u)] as [number, number],
          },
        }),
    toleranceNtu: roundTo(toleranceNtu, DIGITS.ntu),
    because,
  }
}

function worsened(proof: Proof, judged: Judgement): boolean {
  return proof.lastPairs !== null && Math.abs(judged.mean) > Math.abs(proof.lastPairs) + 0.3
}

/** A zero that made a right analyzer read low: the water it was set on was not zero. */
function noteZeroWater(
  context: PointContext,
  state: PointState,
  unit: UnitFold,
  i: number,
  proof: Proof,
  judged: Judgement,
  endMs: number,
): void {
  const id = context.analyzers[i]?.id ?? ''
  const before = proof.lastPairs
  if (before === null || Math.abs(before) > 0.5) return
  unit.zeroWaterSuspect = true
  const toleranceNtu = toleranceAt(context.analyzers[i]?.tolerance ?? context.point.tolerance, unit.levelNtu ?? 0)
  const shift = sayNtu(Math.abs(judged.mean - before) * toleranceNtu)
  state.fold.notes.push({
    key: `zero water ${id} ${String(proof.workMs)}`,
    atMs: endMs,
    type: 'reference.suspect',
    data: {
      summary: `${id} was right before the zero of ${sayInstant(proof.workMs)} and reads ${shift} NTU ${judged.mean < 0 ? 'lower' : 'higher'} since: the zero water is suspect; prove it, then zero again.`,
      notify: 'shift_summary',
      reference: 'zero_water',
      analyzer: id,
      point: context.point.id,
      at: formatInstant(proof.workMs),
      because: [`the difference to the grab samples moved by about ${shift} NTU at the visit`],
      ask: 'prove the zero water on another analyzer or against fresh filtered water, then repeat the zero',
    },
  })
}
