import type { WorkVerdictData } from '../model/events.js'
import type { Analyzer } from '../model/plant.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import { DAY_MS, formatInstant, sayInstant } from '../model/time.js'
import { toleranceAt } from '../model/tolerance.js'
import { correctionData } from '../recommend/correctionData.js'
import { countOf, type Judgement, LEAST_PAIRS, pairsToSettle, type Proof, type Verdict } from '../recommend/proof.js'
import { sayNtu, WORK_WORDS } from '../recommend/summary.js'
import type { PointContext } from './context.js'
import type { UnitFold } from './pointState.js'
import { correctionBefore } from './provenCorrection.js'
import { uncoveredSign } from './uncovered.js'

type Body = Omit<WorkVerdictData, 'recommendation'>

const Z95 = 1.959964

/** The body of a verdict on work. */
export function verdictData(
  context: PointContext,
  unit: UnitFold,
  i: number,
  proof: Proof,
  judged: Judgement,
  verdict: Verdict,
): Body {
  const analyzer = context.analyzers[i]
  const place = placeOf(context, i, proof)
  const toleranceNtu = toleranceOf(context, unit, analyzer)
  const ntu = (tolerances: number): number => roundTo(tolerances * toleranceNtu, DIGITS.ntu)
  const evidence = sayEvidence(proof)
  const after = saySize(ntu(judged.mean), toleranceNtu)
  const work = workOf(place.analyzer, proof)
  const missing = verdict === 'undecided' ? whatSettles(proof, context, unit, analyzer) : undefined
  const correction = verdict === 'confirmed' ? correctionBefore(unit, proof.workMs) : undefined
  const hidden = proof.action === 'cleaned' ? uncoveredSign(unit) : undefined
  const summaries: Record<Verdict, string> = {
    confirmed: `${work} helped; ${evidence} since put it at ${after}.`,
    not_confirmed:
      hidden === undefined
        ? `${work} ${worsened(proof, judged) ? 'made it worse' : 'did not put it right'}; ${evidence} since put it at ${after}: ${unit.case === null ? 'it is in question now' : 'the request is open again'}.`
        : `${work} took off a film of ${sayNtu(hidden.filmNtu)} NTU that had hidden another error; ${evidence} since put it at ${after}: correct that error.`,
    undecided:
      proof.contradictions.length > 0
        ? contradicted(work, proof, after)
        : `${work} is neither proven nor refuted after a fortnight; ${evidence} ${proof.residuals.length === 0 ? 'came' : `put it at ${after}`}: ${missing ?? ''}.`,
  }
  return {
    summary: summaries[verdict],
    ...place,
    pairs: proof.residuals.length,
    ...(proof.before === null ? {} : { before: estimateOf(proof.before.value, proof.before.half, ntu) }),
    ...(countOf(proof) === 0 ? {} : { after: estimateOf(judged.mean, Z95 * judged.u, ntu) }),
    toleranceNtu: roundTo(toleranceNtu, DIGITS.ntu),
    because: becauseOf(proof, verdict, missing),
    ...(missing === undefined ? {} : { missing: [missing] }),
    ...(correction === undefined || analyzer === undefined ? {} : { correction: correctionData(correction, analyzer) }),
  }
}

/** Nothing has come in yet: what would settle it. */
export function reminderData(context: PointContext, unit: UnitFold, i: number, proof: Proof, nowMs: number): Body {
  const analyzer = context.analyzers[i]
  const place = placeOf(context, i, proof)
  const missing = whatSettles(proof, context, unit, analyzer)
  const days = Math.floor((nowMs - proof.workMs) / DAY_MS)
  return {
    summary: `${workOf(place.analyzer, proof)} has no proof yet; no grab sample came in ${String(days)} days, and a calm reading proves nothing: ${missing}.`,
    ...place,
    pairs: 0,
    toleranceNtu: roundTo(toleranceOf(context, unit, analyzer), DIGITS.ntu),
    because: [...proof.visit, 'calm readings say nothing of the level they are calm at'],
    missing: [missing],
  }
}

/** What would settle a proof that is not decided, with a number. */
export function whatSettles(
  proof: Proof,
  context: PointContext,
  unit: UnitFold,
  analyzer: Analyzer | undefined,
): string {
  const more = pairsToSettle(proof)
  const check = CHECK_OF[proof.action] ?? 'a verification on its standard'
  if (more === undefined)
    return `grab samples alone would not settle it within ${sayNtu(toleranceOf(context, unit, analyzer))} NTU; ${check} may`
  const beside = countOf(proof) === 0 ? `, or 2 and ${check}` : ''
  return `${String(more)} ${countOf(proof) === 0 ? '' : 'more '}grab ${more === 1 ? 'sample' : 'samples'} half an hour or more apart${beside} would settle it`
}

const CHECK_OF: Partial<Record<Proof['action'], string>> = { zero: 'a check on zero water' }

function placeOf(context: PointContext, i: number, proof: Proof): Pick<Body, 'notify' | 'analyzer' | 'point' | 'work'> {
  return {
    notify: 'shift_summary',
    analyzer: context.analyzers[i]?.id ?? '',
    point: context.point.id,
    work: {
      at: formatInstant(proof.workMs),
      action: proof.action,
      ...(proof.workId === null ? {} : { id: proof.workId }),
    },
  }
}

/** "0.03 NTU low (tolerance 0.05)". */
function saySize(ntu: number, toleranceNtu: number): string {
  const size = sayNtu(Math.abs(ntu))
  const side = size === '0' ? 'off' : ntu < 0 ? 'low' : 'high'
  return `${size} NTU ${side} (tolerance ${sayNtu(toleranceNtu)})`
}

function workOf(analyzer: string, proof: Proof): string {
  return `${analyzer}: the ${WORK_WORDS[proof.action]} of ${sayInstant(proof.workMs)}`
}

function toleranceOf(context: PointContext, unit: UnitFold, analyzer: Analyzer | undefined): number {
  return toleranceAt(analyzer?.tolerance ?? context.point.tolerance, unit.levelNtu ?? 0)
}

/** "4 grabs", "2 grabs and 1 verification". */
function sayEvidence({ residuals, checks }: Proof): string {
  const grabs = `${String(residuals.length)} ${residuals.length === 1 ? 'grab' : 'grabs'}`
  if (checks.length === 0) return grabs
  return `${grabs} and ${String(checks.length)} ${checks.length === 1 ? 'verification' : 'verifications'}`
}

function contradicted(work: string, proof: Proof, after: string): string {
  const [first] = proof.contradictions
  // The first clause of what speaks against the record is enough for one sentence; the rest stands in the reasons.
  return `${work} is no proof though ${sayEvidence(proof)} put it at ${after}; ${first?.text.split(/[;:,] /)[0] ?? ''}: ${first?.ask ?? ''}.`
}

function becauseOf(proof: Proof, verdict: Verdict, missing: string | undefined): string[] {
  const because = [...proof.visit, ...proof.contradictions.map(one => one.text)]
  if (verdict === 'not_confirmed')
    because.push('the 95 % interval of the mean difference lies beyond half the tolerance')
  if (verdict === 'confirmed') because.push('the 90 % interval of the mean difference lies inside 0.8 tolerance')
  if (verdict === 'undecided' && proof.contradictions.length === 0 && missing !== undefined) because.push(missing)
  if (verdict === 'undecided' && countOf(proof) < LEAST_PAIRS) because.push(`${sayEvidence(proof)} of 4 grabs are in`)
  return because
}

function estimateOf(
  value: number,
  half: number,
  ntu: (tolerances: number) => number,
): { value: number; ci95: [number, number] } {
  return { value: ntu(value), ci95: [ntu(value - half), ntu(value + half)] }
}

function worsened(proof: Proof, judged: Judgement): boolean {
  return proof.lastPairs !== null && Math.abs(judged.mean) > Math.abs(proof.lastPairs) + 0.3
}
