import type { Action, Cause } from '../model/vocabulary.js'

/** A cause that can be named; two of them may stand side by side. */
export type NamedCause = Exclude<Cause, 'undecided'>

/** One step that tells causes apart by what it shows. */
interface Step {
  readonly action: Action
  /** As a subject, with the verb that fits: "a zero check and the secondary standard tell". */
  readonly words: string
  readonly verb: 'tells' | 'tell'
  /** What it shows where a cause is the right one; a cause not listed leaves it at `otherwise`. */
  readonly shows: Partial<Readonly<Record<NamedCause, string>>>
  readonly otherwise: string
}

/** The least work first (common practice, no source). */
const STEPS: readonly Step[] = [
  {
    action: 'check_signal',
    words: 'the local display and its range beside the recorded value',
    verb: 'tell',
    shows: {
      signal_path: 'the display shows another value',
      beyond_range: 'the display stands at the end of its range',
    },
    otherwise: 'display and record agree',
  },
  {
    action: 'take_grab',
    words: 'a repeated grab sample',
    verb: 'tells',
    shows: {
      grab_bad: 'the repeat agrees with the reading',
      process_change: 'samples and reading moved together',
      other_unit: 'the repeat agrees with this unit and not with the other',
    },
    otherwise: 'the repeat differs again',
  },
  {
    action: 'check_laboratory',
    words: 'the laboratory instrument on a standard',
    verb: 'tells',
    shows: { laboratory_bias: 'the laboratory instrument is off' },
    otherwise: 'the laboratory instrument is right',
  },
  {
    action: 'check_sample_line',
    words: 'a look at the sample, its flow and the time a change takes to arrive',
    verb: 'tells',
    shows: {
      sample_line: 'line or flow at fault',
      bubbles: 'bubbles in the cell',
      response_mismatch: 'the change arrives late',
    },
    otherwise: 'the sample is as it should be',
  },
  {
    action: 'inspect',
    words: 'a dark cover, a look at the optics and the level of the light source',
    verb: 'tell',
    shows: {
      stray_light: 'the reading falls under the cover',
      condensation: 'fog or drops on the optics',
      source_ageing: 'the light source has lost its level',
    },
    otherwise: 'nothing of that',
  },
  {
    action: 'clean_then_verify',
    words: 'cleaning and reading again',
    verb: 'tells',
    shows: { fouling: 'the reading comes back', condensation: 'it comes back for days only' },
    otherwise: 'cleaning moves nothing',
  },
  {
    action: 'verify',
    words: 'a zero check and the secondary standard',
    verb: 'tell',
    shows: {
      zero_drift: 'zero is off',
      zero_reference_bad: 'zero is off',
      span_drift: 'zero is right and the standard is off',
      source_ageing: 'zero is right and the standard is off',
      standard_bad: 'both are right by the standard in use',
    },
    otherwise: 'both are right',
  },
  {
    action: 'verify',
    words: 'the zero water of the last zero, read on another analyzer,',
    verb: 'tells',
    shows: { zero_reference_bad: 'the water is not zero' },
    otherwise: 'the water is zero',
  },
]

/** The step that parts two causes, and the sentence that says so. */
export interface NextTest {
  readonly action: Action
  readonly text: string
}

/**
 * The cheapest step that shows something different for each of two causes.
 * @param sayCause a cause as a phrase
 * @returns undefined for a cause beside itself only
 */
export function nextTest(
  one: NamedCause,
  other: NamedCause,
  sayCause: (cause: NamedCause) => string,
): NextTest | undefined {
  const step = STEPS.find(each => shownBy(each, one) !== shownBy(each, other))
  if (step === undefined) return undefined
  const { action, words, verb } = step
  const side = (cause: NamedCause): string => `${sayCause(cause)} (${shownBy(step, cause)})`
  return { action, text: `${words} ${verb} ${side(one)} from ${side(other)}` }
}

function shownBy(step: Step, cause: NamedCause): string {
  return step.shows[cause] ?? step.otherwise
}
