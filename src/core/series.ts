/**
 * What dashboards are given, as points of a time series: a measurement, tags to choose by, fields with numbers and
 * words, and plant time. The same tags and time are the same point: a later one replaces the fields it names, which is
 * how a late fact puts right what was written before, and why a repeat does no harm.
 *
 * Numbers are rounded as in events. `Ntu` stands for the whole unit of the analyzer's method; `OfTolerance` for
 * tolerances at the level. Tags are `plant`, `area` (where the register names one), `point`, `analyzer`, and
 * - `line` and `side` (`high`, `low`) where a line of evidence speaks;
 * - `type` of an annotation: the type of the event behind it, without prefix.
 * Ids are fields, never tags: a database of series keeps each value of a tag for ever.
 *
 * Cardinality. Area, point and plant follow from the analyzer, so they make no series of their own. With A analyzers at
 * P points there are at most
 *   A · (1 block + 1 status + 5 lines + 2 charted lines · 2 sides) = 11 A,
 *   and of annotations 12 types for each analyzer, each point and the plant: 12 (A + P + 1).
 * 1,000 analyzers at 600 points: at most 11,000 + 19,212 = 30,212 series, where a database of the 1.x line stops at
 * 1,000,000 by default. Far fewer come about, since most annotations never happen at most analyzers.
 */
export const SERIES = {
  /** One quarter hour of one analyzer, at its end. `use` is `used` or why it does not count; `usable` is 1 or 0. */
  turbidity_block: {
    medianNtu: 'float',
    spreadNtu: 'float',
    readings: 'integer',
    bubbleShare: 'float',
    usable: 'integer',
    use: 'text',
  },
  /**
   * An analyzer beside a reference. At the time of sampling for grab samples, at the end of six hours for redundant
   * units, at the time of work for references, at the day for slow lines. `differenceNtu` is net of what is taken to
   * stand anyway (the laboratory's offset, the learnt offset of a pair): what charts and estimates go by. Redundant
   * units also have `fromMeanNtu`, the plain difference to the mean of all. Count only what has `use` `used`.
   */
  turbidity_difference: {
    differenceNtu: 'float',
    standardUncertaintyNtu: 'float',
    differenceOfTolerance: 'float',
    standardUncertaintyOfTolerance: 'float',
    toleranceNtu: 'float',
    analyzerNtu: 'float',
    referenceNtu: 'float',
    fromMeanNtu: 'float',
    use: 'text',
    against: 'text',
  },
  /** One side of the chart of a line after a value, in log-likelihood units, with the limit in force then. */
  turbidity_chart: { statistic: 'float', limit: 'float', ofLimit: 'float' },
  /** As told: on change and at least hourly. Bias and its errors are left out while the service does not state them. */
  turbidity_status: {
    assessment: 'text',
    summary: 'text',
    missing: 'text',
    biasNtu: 'float',
    ci95LowNtu: 'float',
    ci95HighNtu: 'float',
    biasOfTolerance: 'float',
    ci95LowOfTolerance: 'float',
    ci95HighOfTolerance: 'float',
    sizeOfTolerance: 'float',
    toleranceNtu: 'float',
    atLevelNtu: 'float',
    zeroErrorNtu: 'float',
    zeroErrorCi95LowNtu: 'float',
    zeroErrorCi95HighNtu: 'float',
    spanErrorShare: 'float',
    spanErrorCi95LowShare: 'float',
    spanErrorCi95HighShare: 'float',
  },
  /** A request, finding, doubt about a reference or verdict on work, when it was told; `text` is the sentence. */
  turbidity_annotation: {
    text: 'text',
    reason: 'text',
    recommendation: 'text',
    phase: 'text',
    action: 'text',
    urgency: 'text',
    cause: 'text',
    finding: 'text',
    biasOfTolerance: 'float',
  },
} as const satisfies Record<string, Record<string, 'float' | 'integer' | 'text'>>

export type Measurement = keyof typeof SERIES

export const SERIES_TAGS = ['plant', 'area', 'point', 'analyzer', 'line', 'side', 'type'] as const
export type SeriesTags = Readonly<Partial<Record<(typeof SERIES_TAGS)[number], string>>>

export type SeriesFields<M extends Measurement> = {
  readonly [F in keyof (typeof SERIES)[M]]?: ((typeof SERIES)[M][F] extends 'text' ? string : number) | undefined
}

/** Plain data that outlives JSON: no field is undefined or not finite, no tag empty. */
export interface SeriesPoint {
  readonly measurement: Measurement
  readonly tags: SeriesTags
  readonly fields: Readonly<Record<string, string | number>>
  readonly atMs: number
}

/** A point of the fields that are known; undefined where none is. */
export function seriesPoint<M extends Measurement>(
  measurement: M,
  tags: Readonly<Partial<Record<keyof SeriesTags, string | undefined>>>,
  atMs: number,
  fields: SeriesFields<M>,
): SeriesPoint | undefined {
  const known = Object.entries<string | number | undefined>(fields).filter(
    (entry): entry is [string, string | number] =>
      typeof entry[1] === 'number' ? Number.isFinite(entry[1]) : entry[1] !== undefined,
  )
  if (known.length === 0) return undefined
  const named = Object.entries(tags).filter(([, value]) => value !== undefined && value !== '')
  return { measurement, tags: Object.fromEntries(named), fields: Object.fromEntries(known), atMs }
}
