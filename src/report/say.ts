import type { Explanation, LineView, StandingData } from '../core/explanation.js'
import type { BiasData, RecommendationData } from '../model/events.js'
import { MINUTE_MS, parseInstant, sayDay, sayInstant } from '../model/time.js'
import { offsetMinutes } from '../model/timeZone.js'
import type { FindingKind } from '../model/vocabulary.js'
import { FINDING_WORDS } from '../recommend/summary.js'
import { EXCLUSION_TEXT, LINE_TEXT, URGENCY_TEXT, URGENCY_WITHOUT_BIAS_TEXT } from './words.js'

/** Turbidity without a unit, with the digits a person can use: 0.039, 1.25, 34.2, 412. */
export function sayNumber(value: number): string {
  const size = Math.abs(value)
  const places = size >= 100 ? 0 : size >= 10 ? 1 : size >= 1 ? 2 : 3
  return withMinus(value.toFixed(places))
}

/** The sign always written, as of a difference: +0.004, −0.039. */
export function saySigned(value: number): string {
  return withSign(sayNumber(value))
}

/** A difference in tolerances: sign and two decimals. */
export function sayTolerances(value: number): string {
  return withSign(withMinus(value.toFixed(2)))
}

/** A share as a signed percentage: −1.0, +23.5. */
export function sayPercent(share: number): string {
  return withSign(withMinus((share * 100).toFixed(1)))
}

/** A chart's statistic or limit: one decimal. */
export function sayStatistic(value: number): string {
  return withMinus(value.toFixed(1))
}

/** Neither 0 nor 1 is ever certain. */
export function sayProbability(probability: number): string {
  if (probability < 0.01) return 'under 0.01'
  if (probability > 0.99) return 'over 0.99'
  return probability.toFixed(2)
}

/** An RFC 3339 time as people write it; text that is no time stays as it is. */
export function sayTime(time: string): string {
  const atMs = parseInstant(time)
  return atMs === undefined ? time : sayInstant(atMs)
}

/** UTC with the plant's own clock beside it where that differs: "20 May 2026, 14:00 UTC (15:00 Europe/London)". */
export function sayPlantInstant(atMs: number, timeZone: string): string {
  const offset = offsetMinutes(timeZone, atMs)
  if (offset === 0) return sayInstant(atMs)
  const wallMs = atMs + offset * MINUTE_MS
  const clock = new Date(wallMs).toISOString().slice(11, 16)
  const day = sayDay(wallMs) === sayDay(atMs) ? '' : `${sayDay(wallMs)}, `
  return `${sayInstant(atMs)} (${day}${clock} ${timeZone})`
}

/** "−0.039 NTU, 95 % interval −0.046 to −0.031 NTU (reads low at 0.112 NTU)". */
export function sayBias(bias: Omit<BiasData, 'trueAtActionLevels'>): string {
  const [lower, upper] = bias.ci95
  const side = upper < 0 ? 'reads low' : lower > 0 ? 'reads high' : 'cannot be told from none'
  return (
    `${saySigned(bias.ntu)} NTU, 95 % interval ${saySigned(lower)} to ${saySigned(upper)} NTU ` +
    `(${side} at ${sayNumber(bias.atLevelNtu)} NTU)`
  )
}

/** The same in tolerances. */
export function sayBiasOfTolerance(bias: Omit<BiasData, 'trueAtActionLevels'>): string {
  const [lower, upper] = bias.ofToleranceCi95
  return (
    `${sayTolerances(bias.ofTolerance)} tolerances, 95 % interval ${sayTolerances(lower)} to ${sayTolerances(upper)} ` +
    `(one tolerance is ${sayNumber(bias.toleranceNtu)} NTU here)`
  )
}

export function sayOnset({ estimateMs, earliestMs, latestMs }: NonNullable<Explanation['onset']>): string {
  const latest = sayInstant(latestMs)
  return earliestMs === undefined
    ? `about ${sayInstant(estimateMs)}, at the latest ${latest}; it may have begun before the record or the last work`
    : `about ${sayInstant(estimateMs)}, between ${sayInstant(earliestMs)} and ${latest}`
}

export function sayForecast(forecast: RecommendationData['forecast']): string {
  if (forecast === null) return 'no date: the bias does not grow in a way that can be carried on'
  const range =
    forecast.latest === undefined
      ? `not before ${sayTime(forecast.earliest)}`
      : `between ${sayTime(forecast.earliest)} and ${sayTime(forecast.latest)}`
  return `about ${sayTime(forecast.toleranceAt)}, ${range}`
}

/** Who is asked about: the analyzer, the point while it is open which unit is wrong, or the laboratory. */
export function sayTarget(target: RecommendationData['target']): string {
  if (target.analyzer !== undefined) return target.analyzer
  if (target.laboratoryInstrument === 'all') return 'the laboratory'
  if (target.laboratoryInstrument !== undefined) return `laboratory instrument ${target.laboratoryInstrument}`
  return target.point === undefined ? 'the plant' : `point ${target.point}`
}

/** "Standard D-1001, assigned 34.2 NTU on this analyzer, expired 2026-05-12: do not use it". */
export function sayStandard(standard: NonNullable<RecommendationData['procedure']['standard']>, atMs: number): string {
  const day = new Date(atMs).toISOString().slice(0, 10)
  const expiry =
    standard.expires === undefined
      ? 'no expiry on record: read its label before use'
      : standard.expires < day
        ? `expired ${standard.expires}: do not use it`
        : `expires ${standard.expires}`
  const lot = standard.lot === undefined ? '' : ` lot ${standard.lot},`
  return `Standard ${standard.id},${lot} assigned ${sayNumber(standard.assignedNtu)} NTU on this analyzer, ${expiry}`
}

/** "Grab samples", "Second unit, FE3-A": a line and what it compares with, where the line does not say so already. */
export function sayLine({ line, against }: Pick<LineView, 'line' | 'against'>): string {
  const name = LINE_TEXT[line]
  return against === '' || against.toLowerCase().includes(name.toLowerCase()) ? name : `${name}, ${against}`
}

export function sayFinding(finding: FindingKind): string {
  return FINDING_WORDS[finding] ?? finding
}

/** A reason of a request; where it is a finding alone, that in words. */
export function sayReason(reason: string): string {
  return FINDING_WORDS[reason] ?? reason
}

/** Why a grab did not count, in words where it is a reason of the vocabulary. */
export function sayUse(use: string): string {
  if (use === 'suspect') return EXCLUSION_TEXT.suspect_grab
  return (EXCLUSION_TEXT as Readonly<Record<string, string>>)[use] ?? use
}

/** The request that is still alive; a closed one asks for nothing. */
export function liveRecommendation(explanation: Explanation): RecommendationData | undefined {
  const { recommendation } = explanation
  return recommendation === undefined || recommendation.phase === 'closed' ? undefined : recommendation
}

/** A request about the laboratory stands on the page of an analyzer that it measured: the analyzer is not blamed. */
export function sayOtherSubject(explanation: Explanation): string | undefined {
  const live = liveRecommendation(explanation)
  if (live?.target.laboratoryInstrument === undefined) return undefined
  return `This request is about ${sayTarget(live.target)}, which measures grab samples of ${explanation.point}; it is not about the analyzer ${explanation.analyzer}.`
}

/** Nothing was worked through yet: neither health nor a request can follow. */
export function isNotWorked({ since }: StandingData): boolean {
  return since === undefined
}

export function sayWhen({ atMs }: Pick<Explanation, 'atMs'>): string {
  return atMs === 0 ? 'no plant time yet' : sayInstant(atMs)
}

/** Whose instrument a page is about, and as of when. */
export function whereAndWhen({
  analyzer,
  serial,
  pointName,
  point,
  plantName,
  atMs,
  timeZone,
}: Explanation): readonly string[] {
  return [
    `Analyzer ${analyzer}${serial === undefined ? '' : `, serial ${serial}`}`,
    `${pointName} (${point})`,
    plantName,
    atMs === 0 ? sayWhen({ atMs }) : `as of ${sayPlantInstant(atMs, timeZone)}`,
  ]
}

export function sayRespondBy({ respondBy }: RecommendationData, { atMs, timeZone }: Explanation): string {
  const byMs = parseInstant(respondBy)
  if (byMs === undefined) return `Respond by ${respondBy}.`
  return `Respond by ${sayPlantInstant(byMs, timeZone)}${byMs < atMs ? ': this has passed' : ''}.`
}

/** How urgent, and what that rests on. */
export function sayUrgency({ urgency, bias }: RecommendationData): string {
  return `${(bias === undefined ? URGENCY_WITHOUT_BIAS_TEXT : URGENCY_TEXT)[urgency]}.`
}

/** Which clock the times are of. */
export function sayClock({ timeZone }: Explanation): string {
  return timeZone === 'UTC' ? 'All times are UTC.' : `Times are UTC; in brackets by the clock of ${timeZone}.`
}

/** A request that does not rest on the charts of bias says so before their conditions. */
export function sayGround(explanation: Explanation): string | undefined {
  const live = liveRecommendation(explanation)
  if (live === undefined || live.bias !== undefined) return undefined
  return `This request rests on what was found (${live.cause.because.map(sayReason).join('; ')}). The conditions here are those of a request about a bias of ${explanation.analyzer}.`
}

/** The sentence that stands first. Once the work is done the request must not send anybody out a second time. */
export function headline(explanation: Explanation): string {
  const live = liveRecommendation(explanation)
  if (live === undefined) return explanation.status.summary
  return live.phase === 'awaiting_proof' ? `Work done, proof awaited. The request was: ${live.summary}` : live.summary
}

/** What rounds to zero has no sign. */
function withSign(text: string): string {
  return text.startsWith('−') || Number(text) === 0 ? text : `+${text}`
}

function withMinus(text: string): string {
  // toFixed writes −0.000 for tiny negatives, and a hyphen where a minus is meant.
  return /^-0(\.0+)?$/.test(text) ? text.slice(1) : text.replace('-', '−')
}
