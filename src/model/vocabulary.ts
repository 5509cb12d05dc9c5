/** Words the events use. Stable: consumers switch on them. */
export const ACTIONS = [
  'take_grab',
  'check_signal',
  'check_sample_line',
  'check_laboratory',
  'verify',
  'clean_then_verify',
  'zero',
  'zero_and_span',
  'span',
  'inspect',
  'calibrate_primary',
] as const
export type Action = (typeof ACTIONS)[number]

export const CAUSES = [
  'zero_drift',
  'span_drift',
  'fouling',
  'source_ageing',
  'response_mismatch',
  'beyond_range',
  'bubbles',
  'condensation',
  'stray_light',
  'sample_line',
  'signal_path',
  'zero_reference_bad',
  'standard_bad',
  'grab_bad',
  'laboratory_bias',
  'other_unit',
  'process_change',
  'undecided',
] as const
export type Cause = (typeof CAUSES)[number]

export const URGENCIES = ['now', 'soon', 'routine'] as const
export type Urgency = (typeof URGENCIES)[number]

export const ASSESSMENTS = ['consistent', 'watch', 'doubtful', 'signal_fault', 'not_assessed'] as const
export type Assessment = (typeof ASSESSMENTS)[number]

export const FINDINGS = [
  'stuck',
  'silent',
  'bubbles',
  'erratic',
  'no_flow',
  'beyond_range',
  'bad_quality',
  'exact_factor',
  'display_differs',
  'follows_daylight',
  'comes_late',
  'returned_unsettled',
  'did_not_settle',
  'maintenance_forgotten',
  'not_in_service_inferred',
  'many_silent',
  'gross_difference',
  'methods_differ',
  'no_usable_unit',
  'feed_down',
  'power_dip',
  'process_change',
] as const
export type FindingKind = (typeof FINDINGS)[number]

/** Why a reading, a block or a pair was left out. Each has a counter; nothing is dropped without one. */
export const EXCLUSIONS = [
  'repeat',
  'conflict',
  'late',
  'too_old',
  'from_future',
  'method_differs',
  'state_maintenance',
  'state_calibrating',
  'state_fault',
  'quality_bad',
  'beyond_range',
  'no_flow',
  'bubble',
  'maintenance',
  'settling',
  'not_in_service',
  'not_in_service_inferred',
  'stuck',
  'wrong_scale',
  'level_not_recoverable',
  'no_usable_reading',
  'moving_process',
  'suspect_grab',
  'time_unclear',
  'exchanged_bottle',
  'second_bottle',
  'censored_not_usable',
  'laboratory_interval',
  'learning_method',
  'reference_contradicted',
  'standard_unassigned',
  'superseded',
] as const
export type Exclusion = (typeof EXCLUSIONS)[number]
export type ExclusionCounts = Partial<Record<Exclusion, number>>

/** How a request ended, as the track record counts it. */
export const OUTCOMES = ['confirmed', 'not_confirmed', 'found_within_limits', 'undecided'] as const
export type Outcome = (typeof OUTCOMES)[number]

/** Quality of a record once it is corrected, best first. */
export const RATINGS = ['excellent', 'good', 'fair', 'poor'] as const
export type Rating = (typeof RATINGS)[number]

/** Lines of evidence, the strongest first. */
export const LINES = ['grab', 'redundant', 'verification', 'related', 'clean_water_floor', 'diagnostics'] as const
export type Line = (typeof LINES)[number]
/** Those that can carry a request; the others are shown, change a status and name causes. */
export const CARRYING_LINES: readonly Line[] = ['grab', 'redundant', 'verification']

export const EVENT_TYPES = [
  'recommendation.opened',
  'recommendation.revised',
  'recommendation.escalated',
  'recommendation.answered',
  'recommendation.withdrawn',
  'recommendation.closed',
  'recommendation.reopened',
  'analyzer.status',
  'analyzer.finding',
  'reference.suspect',
  'work.confirmed',
  'work.not_confirmed',
  'work.undecided',
  'shift.summary',
  'message.rejected',
] as const
export type EventType = (typeof EVENT_TYPES)[number]
