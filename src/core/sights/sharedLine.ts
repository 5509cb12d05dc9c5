import type { SampleLine } from '../../compare/sampleLines.js'
import { effectAt, type Hypothesis, presentShare } from '../../diagnose/hypothesis.js'
import type { PointPosterior } from '../../diagnose/posterior.js'
import { sayInstant } from '../../model/time.js'
import { toleranceAt } from '../../model/tolerance.js'
import { OPENING } from '../../recommend/opening.js'
import { listWords, sayAbout, sayNtu } from '../../recommend/summary.js'
import type { PointContext } from '../context.js'
import type { PointState } from '../pointState.js'

/** Pieces of evidence over which it must hold, and below which probability it is no more. */
const HELD = 2
const TURNED_AWAY = 0.5

/**
 * Units on one sample line that move together against the others and the grab samples: the line is looked at first, by
 * one request about the point, and none of its units is asked to be touched.
 * @param isNew whether evidence came in since the last look
 * @returns whether that request stands
 */
export function concludeSharedLine(
  context: PointContext,
  state: PointState,
  posterior: PointPosterior,
  isNew: boolean,
  endMs: number,
): boolean {
  const { fold } = state
  const lines = linesIn(posterior)
  const [likeliest] = lines
    .map(line => ({ line, ...weigh(context, state, posterior, line, endMs) }))
    .sort((a, b) => b.probability - a.probability)
  const open = fold.pointCase?.kind === 'sample_line'
  if (likeliest === undefined || likeliest.probability < TURNED_AWAY) fold.lineHeld = 0
  else if (likeliest.probability >= OPENING.beyondHalf && isNew) fold.lineHeld += 1
  if (open) {
    const flushedMs = lastFlush(state, fold.pointCase?.openedMs ?? endMs)
    if (flushedMs === undefined && fold.lineHeld > 0) return true
    fold.pointCase = null
    fold.lineHeld = 0
    fold.pointEnded =
      flushedMs === undefined
        ? { atMs: endMs, how: 'withdrawn', reason: 'the units on the line no longer stand apart from the others' }
        : {
            atMs: endMs,
            how: 'closed',
            reason: `the line was flushed on ${sayInstant(flushedMs)}; the next grabs tell`,
          }
    return false
  }
  if (likeliest === undefined || fold.lineHeld < HELD || !signals(context, state, likeliest.line)) return false
  const units = likeliest.line.units.flatMap(unit => context.point.analyzers[unit] ?? [])
  fold.pointEnded = null
  fold.whichUnitSinceMs = null
  fold.pointCase = {
    target: { analyzer: null, point: context.point.id, laboratoryInstrument: null },
    kind: 'sample_line',
    phase: 'open',
    openedMs: endMs,
    action: 'check_sample_line',
    causes: [{ cause: 'sample_line', probability: Math.round(likeliest.probability * 1_000) / 1_000 }],
    because: [
      `${listWords(units)} hang on sample line ${likeliest.line.sampleLine} and moved together by ${sayNtu(likeliest.biasNtu)} NTU against other units and grabs since ${sayAbout(likeliest.sinceMs)}`,
      'two instruments rarely go wrong alike; what they share is the line: air, settling, an open drain, a film in the pipe',
    ],
    urgency: 'routine',
    estimate: null,
    finding: null,
    sinceMs: likeliest.sinceMs,
    pendingAction: null,
  }
  return true
}

function linesIn({ hypotheses }: PointPosterior): SampleLine[] {
  const lines = new Map<string, SampleLine>()
  for (const { who } of hypotheses) if (typeof who === 'object') lines.set(who.sampleLine, who)
  return [...lines.values()]
}

/** Probability that the line brings other water by more than half the tolerance, how much, and since when. */
function weigh(
  context: PointContext,
  { fold }: PointState,
  { hypotheses }: PointPosterior,
  line: SampleLine,
  endMs: number,
): { probability: number; biasNtu: number; sinceMs: number } {
  const levelNtu = fold.units[line.units[0] ?? 0]?.levelNtu ?? 0
  const toleranceNtu = toleranceAt(context.point.tolerance, levelNtu)
  const biasOf = (one: Hypothesis): number => one.mean * effectAt(one.kind, levelNtu) * presentShare(one, endMs, endMs)
  let [probability, bias, since] = [0, 0, 0]
  for (const one of hypotheses) {
    if (typeof one.who !== 'object' || one.who.sampleLine !== line.sampleLine) continue
    if (Math.abs(biasOf(one)) < toleranceNtu / 2) continue
    probability += one.weight
    bias += one.weight * biasOf(one)
    since += one.weight * one.onsetMs
  }
  if (probability === 0) return { probability, biasNtu: 0, sinceMs: endMs }
  return { probability, biasNtu: bias / probability, sinceMs: Math.round(since / probability) }
}

/** A chart in which one of its units takes part has to signal, as for any request. */
function signals(context: PointContext, { fold }: PointState, line: SampleLine): boolean {
  return line.units.some(
    unit =>
      fold.units[unit]?.grab.chart.signalSinceMs != null ||
      context.lines.some((own, k) => own.unit === unit && fold.lines[k]?.chart.signalSinceMs != null),
  )
}

function lastFlush({ fold }: PointState, sinceMs: number): number | undefined {
  const times = fold.units.flatMap(unit =>
    unit.works.flatMap(work => (work.action === 'line_flushed' && work.atMs > sinceMs ? [work.atMs] : [])),
  )
  return times.length > 0 ? Math.max(...times) : undefined
}

export function sharedLineSentence(point: string, because: readonly string[]): string {
  return `${point}: ${because[0] ?? ''}; the line comes first: look at its flow, air and valve, flush it, then take a grab.`
}
