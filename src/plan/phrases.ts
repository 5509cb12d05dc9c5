import type { Action } from '../model/vocabulary.js'

/** What is asked for, as a thing. */
export const ACTION_PHRASE: Readonly<Record<Action, string>> = {
  take_grab: 'a grab sample',
  check_signal: 'a check of the signal path',
  check_sample_line: 'a look at the sample line',
  check_laboratory: 'a check of the laboratory instrument',
  verify: 'a verification',
  clean_then_verify: 'cleaning, then a reading again',
  zero: 'a zero',
  zero_and_span: 'zero and span',
  span: 'a span',
  inspect: 'an inspection',
  calibrate_primary: 'a primary calibration',
}
