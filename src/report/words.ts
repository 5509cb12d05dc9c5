import type { RecommendationData } from '../model/events.js'
import type { Action, Assessment, Exclusion, Line, Urgency } from '../model/vocabulary.js'

/**
 * The words of the events as headings and cells say them; within sentences the words of the recommendation serve.
 * A new word without a text does not compile.
 */
export const ACTION_TEXT: Readonly<Record<Action, string>> = {
  take_grab: 'Take a grab sample',
  check_signal: 'Check the signal path',
  check_sample_line: 'Check the sample line',
  check_laboratory: 'Check the laboratory instrument',
  verify: 'Verify against a standard',
  clean_then_verify: 'Clean, then verify',
  zero: 'Zero the analyzer',
  zero_and_span: 'Zero, then span the analyzer',
  span: 'Span the analyzer',
  inspect: 'Inspect the analyzer',
  calibrate_primary: 'Calibrate on a primary standard',
}

export const URGENCY_TEXT: Readonly<Record<Urgency, string>> = {
  now: 'Now: the bias is beyond tolerance on the side that hides bad water, or no usable unit is left',
  soon: 'Soon: the tolerance is likely to be passed within 7 days',
  routine: 'Routine: at the next planned visit',
}

/** The same of a request that rests on no bias of an analyzer. */
export const URGENCY_WITHOUT_BIAS_TEXT: Readonly<Record<Urgency, string>> = {
  now: 'Now: at once',
  soon: 'Soon: before the next planned visit',
  routine: URGENCY_TEXT.routine,
}

export const ASSESSMENT_TEXT: Readonly<Record<Assessment, string>> = {
  consistent: 'consistent with independent evidence',
  watch: 'watched: some evidence of a bias, not enough to ask for work',
  doubtful: 'doubtful',
  signal_fault: 'signal fault',
  not_assessed: 'not assessed: no independent evidence',
}

export const LINE_TEXT: Readonly<Record<Line, string>> = {
  grab: 'Grab samples',
  redundant: 'Second unit',
  verification: 'Verification',
  related: 'Related points',
  clean_water_floor: 'Clean-water floor',
  diagnostics: 'Diagnostics',
}

export const EXCLUSION_TEXT: Readonly<Record<Exclusion, string>> = {
  repeat: 'the same message came again',
  conflict: 'the same time came again with another value; the first was kept',
  late: 'came after its 15-minute block was closed',
  too_old: 'older than the ten days that can be worked through again',
  from_future: 'dated in the future',
  method_differs: 'another measuring method (NTU against FNU), which agrees on formazin only',
  state_maintenance: 'analyzer reported maintenance',
  state_calibrating: 'analyzer reported calibration',
  state_fault: 'analyzer reported a fault',
  quality_bad: 'marked bad at the source',
  beyond_range: 'at or beyond the measuring range: a held number, not a value',
  no_flow: 'no sample flow',
  bubble: 'raised briefly by bubbles',
  maintenance: 'within a maintenance record',
  settling: 'not settled yet after work',
  not_in_service: 'point not in service, or within an hour of its return',
  not_in_service_inferred: 'read like a filter at rest or at its restart, inferred without a process state',
  stuck: 'stuck longer than resolution and noise explain',
  wrong_scale: 'scaled in the signal path: its values changed at once by an exact factor',
  level_not_recoverable: 'too many bubbles to tell the level',
  no_usable_reading: 'no usable reading beside it',
  moving_process: 'water moved too fast to compare within tolerance',
  time_unclear: 'its local time came twice that night, and what it would be compared with differs',
  suspect_grab: 'far from the grabs before it; waits for the next one',
  exchanged_bottle: 'likely exchanged with the bottle of another point',
  second_bottle: 'second bottle within 30 minutes',
  censored_not_usable: 'below the reporting limit, so it says nothing on this side',
  laboratory_interval: 'taken while the laboratory instrument was in doubt',
  learning_method: 'by another method, and one of the first, from which the relation to the analyzer is learnt',
  reference_contradicted: 'the register, its date or its serial speaks against the reference that was used',
  standard_unassigned: 'a secondary standard of which nobody said when it was assigned on this analyzer',
  superseded: 'replaced by a correction',
}

export const PHASE_TEXT: Readonly<Record<RecommendationData['phase'], string>> = {
  open: 'open',
  awaiting_proof: 'work done, proof awaited',
  closed: 'closed',
}

export const ANSWER_TEXT: Readonly<Record<RecommendationData['answer'], string>> = {
  none: 'not answered yet',
  acknowledged: 'acknowledged',
  deferred: 'deferred',
  rejected: 'rejected',
}

/** In place of "nothing is asked" while nothing has been worked through. */
export const NOT_ASSESSED_TEXT = 'Nothing has been assessed yet, so nothing can be asked.'

/** Stands on everything that asks for work. */
export const DEFERENCE_TEXT =
  'Local codes, site procedures and licensed practice come first. This is advice: it is no verdict of compliance, ' +
  'and nothing is written to an analyzer or a control loop.'
