/**
 * Published criteria and rules a point may be compared with. The names are our own, the values those of the source.
 * `mark` says how the value was checked: `verified` in a copy of the text, `from_memory` where none was at hand.
 * Nothing here is a verdict: what applies to a plant is for its authority and its site procedures to say.
 */
export type PublishedRule = { readonly source: string; readonly mark: 'verified' | 'from_memory' } & (
  | SubstituteGrabsRule
  | BlockRule
  | { readonly kind: 'verification'; readonly relative: number }
  | { readonly kind: 'bench'; readonly absoluteNtu: number; readonly relative: number }
)

/** Grab samples in place of a continuous reading that has failed, and for how long they may stand in. */
export interface SubstituteGrabsRule {
  readonly kind: 'substitute_grabs'
  readonly everyHours: number
  readonly days: number
  readonly counted: 'working_days' | 'days'
}

/** What is compared with the values of 15-minute blocks. */
export type BlockRule =
  | {
      readonly kind: 'monthly_share'
      readonly atMostNtu: number
      /** Least share of the month's values that are at most that. */
      readonly share: number
      readonly neverAboveNtu?: number
    }
  | {
      readonly kind: 'two_in_a_row'
      readonly aboveNtu: number
      /** Months in a row in which that has to happen. */
      readonly months: number
    }
  | { readonly kind: 'after_start'; readonly aboveNtu: number; readonly hours: number }

export const PUBLISHED_RULES = {
  grabs_every_4_h_5_working_days: {
    source: '40 CFR 141.174(b)',
    mark: 'verified',
    kind: 'substitute_grabs',
    everyHours: 4,
    days: 5,
    counted: 'working_days',
  },
  grabs_every_4_h_14_days: {
    source: '40 CFR 141.561',
    mark: 'verified',
    kind: 'substitute_grabs',
    everyHours: 4,
    days: 14,
    counted: 'days',
  },
  // The days were read in a copy of the text, the four hours are from memory.
  tx_grabs_every_4_h_5_working_days: {
    source: '30 TAC 290.111',
    mark: 'from_memory',
    kind: 'substitute_grabs',
    everyHours: 4,
    days: 5,
    counted: 'working_days',
  },
  tx_grabs_every_4_h_14_working_days: {
    source: '30 TAC 290.111',
    mark: 'from_memory',
    kind: 'substitute_grabs',
    everyHours: 4,
    days: 14,
    counted: 'working_days',
  },
  month_95_pct_to_0_5: {
    source: '40 CFR 141.73(a)',
    mark: 'verified',
    kind: 'monthly_share',
    atMostNtu: 0.5,
    share: 0.95,
    neverAboveNtu: 5,
  },
  // The numbers were read, the paragraph is from memory.
  month_95_pct_to_0_3: {
    source: '40 CFR 141.173(a)',
    mark: 'from_memory',
    kind: 'monthly_share',
    atMostNtu: 0.3,
    share: 0.95,
    neverAboveNtu: 1,
  },
  month_95_pct_to_0_3_small_system: {
    source: '40 CFR 141.551',
    mark: 'verified',
    kind: 'monthly_share',
    atMostNtu: 0.3,
    share: 0.95,
    neverAboveNtu: 1,
  },
  month_95_pct_to_0_15: {
    source: '40 CFR 141.718(a)',
    mark: 'verified',
    kind: 'monthly_share',
    atMostNtu: 0.15,
    share: 0.95,
  },
  filter_month_95_pct_to_0_15: {
    source: '40 CFR 141.718(b)',
    mark: 'verified',
    kind: 'monthly_share',
    atMostNtu: 0.15,
    share: 0.95,
  },
  filter_twice_above_0_3: {
    source: '40 CFR 141.718(b)',
    mark: 'verified',
    kind: 'two_in_a_row',
    aboveNtu: 0.3,
    months: 1,
  },
  // Read in the like clause for small systems, 40 CFR 141.563(a).
  filter_twice_above_1: {
    source: '40 CFR 141.175(b)(1)',
    mark: 'verified',
    kind: 'two_in_a_row',
    aboveNtu: 1,
    months: 1,
  },
  filter_twice_above_0_5_after_4_h: {
    source: '40 CFR 141.175(b)(2)',
    mark: 'from_memory',
    kind: 'after_start',
    aboveNtu: 0.5,
    hours: 4,
  },
  filter_twice_above_1_three_months: {
    source: '40 CFR 141.175(b)(3)',
    mark: 'from_memory',
    kind: 'two_in_a_row',
    aboveNtu: 1,
    months: 3,
  },
  filter_twice_above_2_two_months: {
    source: '40 CFR 141.175(b)(4)',
    mark: 'from_memory',
    kind: 'two_in_a_row',
    aboveNtu: 2,
    months: 2,
  },
  verification_within_10_pct: {
    source: 'EPA 815-R-99-010, verification of on-line turbidimeters',
    mark: 'from_memory',
    kind: 'verification',
    relative: 0.1,
  },
  bench_within_10_pct_or_0_05: {
    source: 'EPA 815-R-99-010, on-line against bench',
    mark: 'from_memory',
    kind: 'bench',
    absoluteNtu: 0.05,
    relative: 0.1,
  },
} as const satisfies Readonly<Record<string, PublishedRule>>

export type Criterion = keyof typeof PUBLISHED_RULES

export const CRITERIA = Object.keys(PUBLISHED_RULES) as [Criterion, ...Criterion[]]

export function publishedRule(criterion: Criterion): PublishedRule {
  return PUBLISHED_RULES[criterion]
}
