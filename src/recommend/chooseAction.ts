import type { UnitEstimate } from '../diagnose/estimate.js'
import type { Action } from '../model/vocabulary.js'
import type { RankedCause } from './case.js'
import type { DecisionContext } from './decisionContext.js'
import { type NamedCause, nextTest } from './nextTest.js'
import { OPENING } from './opening.js'
import { CAUSE_WORDS } from './summary.js'

/** What is done about a cause once it is known. */
const REMEDY: Readonly<Record<NamedCause, Action>> = {
  zero_drift: 'zero',
  span_drift: 'zero_and_span',
  fouling: 'clean_then_verify',
  source_ageing: 'inspect',
  response_mismatch: 'check_sample_line',
  beyond_range: 'inspect',
  bubbles: 'check_sample_line',
  condensation: 'inspect',
  stray_light: 'inspect',
  sample_line: 'check_sample_line',
  signal_path: 'check_signal',
  zero_reference_bad: 'zero',
  standard_bad: 'verify',
  grab_bad: 'take_grab',
  laboratory_bias: 'check_laboratory',
  other_unit: 'take_grab',
  process_change: 'take_grab',
}

/** Causes that the values themselves weigh; the others come from signs and are looked into as soon as they lead. */
const OF_VALUES: ReadonlySet<NamedCause> = new Set(['zero_drift', 'zero_reference_bad', 'span_drift', 'fouling'])
const LEADING = 0.5
/** Below this a span error is not worth opening the standard for. */
const NEGLIGIBLE_SPAN = 0.05
/** A film this likely is looked for first: cleaning comes before any adjustment anyway. */
const FILM_WORTH_A_LOOK = 0.12
/** Loss of gain beyond what drift does, where nothing is known of earlier changes (common practice, no source). */
const LARGE_LOSS = -0.15
/** A span change this many times the largest earlier one points to a film or a failing source (common practice, no source). */
const MUCH_LARGER = 3
const LEAST_LARGE = 0.05

/** The least work that puts it right, or the cheapest step that parts what is still open, and why. */
export function chooseAction(
  causes: readonly RankedCause[],
  estimate: UnitEstimate,
  context: DecisionContext,
): { readonly action: Action; readonly because: readonly string[] } {
  const named = causes.flatMap(({ cause, probability }) => (cause === 'undecided' ? [] : [{ cause, probability }]))
  const [first, second] = named
  const p = (...wanted: readonly NamedCause[]): number =>
    named.reduce((sum, { cause, probability }) => sum + (wanted.includes(cause) ? probability : 0), 0)
  if (first !== undefined && !OF_VALUES.has(first.cause) && first.probability >= LEADING)
    return { action: REMEDY[first.cause], because: [] }
  if (context.zeroWaterSuspect) return { action: 'zero', because: [] }
  if (context.needsPrimary)
    return { action: 'calibrate_primary', because: ['a new light source calls for a primary calibration'] }
  if (estimate.who.all >= LEADING)
    return {
      action: 'verify',
      because: ['all units are off alike: a standard on each tells whether they share a cause'],
    }
  const zero = p('zero_drift', 'zero_reference_bad')
  const span = p('span_drift', 'source_ageing')
  if (isFilmFirst(p('fouling'), zero, estimate, context)) return clean(named)
  if (zero >= OPENING.known || span <= NEGLIGIBLE_SPAN) return { action: 'zero', because: [] }
  if (span >= OPENING.known) return forSpan(estimate, context)
  const test = first === undefined || second === undefined ? undefined : nextTest(first.cause, second.cause, sayCause)
  return {
    action: test?.action ?? 'verify',
    because: test === undefined ? [] : [`the levels seen cannot part them: ${test.text}`],
  }
}

/**
 * A film is looked for before anything is adjusted where a reading crept up, or where a film is the likeliest: a loss of
 * gain is seldom one. A cleaning that did not help has shown that there is none.
 */
function isFilmFirst(film: number, zero: number, estimate: UnitEstimate, { failed }: DecisionContext): boolean {
  const least = failed.length === 0 && estimate.biasNtu.value > 0 ? FILM_WORTH_A_LOOK : LEADING
  return !failed.includes('cleaned') && film >= least && (film + zero >= LEADING || estimate.pRamp >= LEADING)
}

function clean(named: readonly { readonly cause: NamedCause }[]): ReturnType<typeof chooseAction> {
  const other = named.find(({ cause }) => cause !== 'fouling')
  const test = other === undefined ? undefined : nextTest(other.cause, 'fouling', sayCause)
  return {
    action: 'clean_then_verify',
    because: test === undefined ? [] : [`telemetry alone cannot part them: ${test.text}`],
  }
}

/** Span follows a zero, unless the zero is done; a change out of all proportion is looked into first. */
function forSpan(estimate: UnitEstimate, context: DecisionContext): ReturnType<typeof chooseAction> {
  const change = estimate.model?.spanRel.value ?? 0
  const earlier = Math.max(0, ...context.earlierSpans.map(Math.abs))
  const isOutOfProportion =
    earlier > 0 ? Math.abs(change) > Math.max(LEAST_LARGE, MUCH_LARGER * earlier) : change <= LARGE_LOSS
  if (isOutOfProportion) {
    const than = earlier > 0 ? `, earlier changes were ${percent(earlier)} at most` : ''
    return {
      action: 'inspect',
      because: [
        `a span change of ${percent(change)} points to a film or a failing source, not to drift${than}: clean and look before adjusting`,
      ],
    }
  }
  return {
    action: context.failed.includes('zero') ? 'span' : 'zero_and_span',
    because: ['span follows a zero in most cases (common practice)'],
  }
}

function sayCause(cause: NamedCause): string {
  return CAUSE_WORDS[cause]
}

function percent(share: number): string {
  return `${String(Math.round(100 * share))} %`
}
