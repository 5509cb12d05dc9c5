import { sharedOffset } from '../compare/laboratoryOffset.js'
import { pairResidualNtu } from '../compare/pair.js'
import { foundOfTolerance, foundUOfTolerance } from '../compare/verification.js'
import { DIGITS, roundTo } from '../model/rounding.js'
import type { Line } from '../model/vocabulary.js'
import { blockAt } from '../qualify/blockLog.js'
import { blockEnd } from '../qualify/openBlock.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'
import { seriesPoint, type SeriesPoint } from './series.js'

/** What the fold of one more block has brought: the blocks themselves, and values and charts of lines that came with it. */
export function foldedSeries(context: PointContext, point: PointState, endMs: number): SeriesPoint[] {
  return context.point.analyzers
    .flatMap((_, i) => [
      block(context, point, i, endMs),
      ...grabs(context, point, i, endMs),
      ...redundant(context, point, i, endMs),
      ...verifications(context, point, i, endMs),
    ])
    .filter(one => one !== undefined)
}

export function tagsOf({ plant, point }: PointContext, i: number, line?: Line) {
  return { plant: plant.plant, area: point.area, point: point.id, analyzer: point.analyzers[i], line }
}

/** A quarter hour without a reading is told too: silence counts against the share that is usable. */
function block(context: PointContext, point: PointState, i: number, endMs: number): SeriesPoint | undefined {
  const log = point.analyzers[i]?.log
  const unit = point.fold.units[i]
  if (log === undefined || unit === undefined) return undefined
  const closed = blockAt(log, endMs)
  return seriesPoint('turbidity_block', tagsOf(context, i), endMs, {
    medianNtu: roundTo(closed?.medianNtu ?? NaN, DIGITS.ntu),
    spreadNtu: roundTo(closed?.sigmaNtu ?? NaN, DIGITS.ntu),
    readings: closed?.count ?? 0,
    bubbleShare: roundTo(closed?.bubbleShare ?? NaN, DIGITS.probability),
    usable: unit.against === null ? 1 : 0,
    use: unit.against ?? 'used',
  })
}

/** Pairs due with the block, and the pair before them: a suspect one is judged by the next. */
function grabs(context: PointContext, point: PointState, i: number, endMs: number): (SeriesPoint | undefined)[] {
  const { pairs } = point
  let from = pairs.length
  while (from > 0 && pairs[from - 1]!.dueMs === endMs) from -= 1
  if (from === pairs.length) return []
  while (from > 0 && pairs[from]?.use !== 'used') from -= 1
  const offsetNtu = sharedOffset(point.fold.units.map(unit => unit.offset)).ntu
  return pairs.slice(Math.max(0, from - 1)).flatMap(pair => {
    const paired = pair.units[i]
    if (paired == null) return []
    // Two bottles of one instant stand a millisecond apart, or the second would replace the first.
    const atMs = pair.atMs + pairs.filter(one => one.atMs === pair.atMs).indexOf(pair)
    const residualNtu = pairResidualNtu(pair, paired, offsetNtu)
    return [
      seriesPoint('turbidity_difference', tagsOf(context, i, 'grab'), atMs, {
        differenceNtu: roundTo(residualNtu, DIGITS.ntu),
        standardUncertaintyNtu: roundTo(paired.uNtu, DIGITS.ntu),
        differenceOfTolerance: roundTo(residualNtu / paired.toleranceNtu, DIGITS.tolerances),
        standardUncertaintyOfTolerance: roundTo(paired.uNtu / paired.toleranceNtu, DIGITS.tolerances),
        toleranceNtu: roundTo(paired.toleranceNtu, DIGITS.ntu),
        analyzerNtu: roundTo(paired.ntu, DIGITS.ntu),
        referenceNtu: roundTo(pair.grabNtu, DIGITS.ntu),
        use: pair.use,
        against: `grab sample ${pair.sampleId ?? ''}`.trimEnd(),
      }),
      ...(pair.use === 'used' ? chart(context, i, 'grab', atMs, paired) : []),
    ]
  })
}

/** The six hours that end with the block, seen from this unit as `explain` shows them. */
function redundant(context: PointContext, point: PointState, i: number, endMs: number): (SeriesPoint | undefined)[] {
  const difference = point.differences.at(-1)
  if (difference?.atMs !== endMs) return []
  const k = context.lines.findIndex(one => one.against === 'pair' || one.unit === i)
  const value = difference.lines[k]
  const sign = context.lines[k]?.against === 'pair' && context.lines[k].unit !== i ? -1 : 1
  const { toleranceNtu, deviationsNtu } = difference
  const deviationNtu = deviationsNtu[i]
  if (value == null && deviationNtu == null) return []
  const ofTolerance = sign * (value?.ofTolerance ?? NaN)
  const uOfTolerance = value?.uOfTolerance ?? NaN
  return [
    seriesPoint('turbidity_difference', tagsOf(context, i, 'redundant'), endMs, {
      differenceNtu: roundTo(ofTolerance * toleranceNtu, DIGITS.ntu),
      standardUncertaintyNtu: roundTo(uOfTolerance * toleranceNtu, DIGITS.ntu),
      differenceOfTolerance: roundTo(ofTolerance, DIGITS.tolerances),
      standardUncertaintyOfTolerance: roundTo(uOfTolerance, DIGITS.tolerances),
      toleranceNtu: roundTo(toleranceNtu, DIGITS.ntu),
      fromMeanNtu: roundTo(deviationNtu ?? NaN, DIGITS.ntu),
      use: 'used',
      against: context.point.analyzers.filter((_, other) => other !== i).join(' and '),
    }),
    ...(value == null
      ? []
      : chart(context, i, 'redundant', endMs, sign === 1 ? value : { ...value, high: value.low, low: value.high })),
  ]
}

function verifications(context: PointContext, point: PointState, i: number, endMs: number) {
  const all = point.fold.units[i]?.verifications ?? []
  return all.flatMap(one =>
    blockEnd(one.atMs) !== endMs
      ? []
      : seriesPoint('turbidity_difference', tagsOf(context, i, 'verification'), one.atMs, {
          differenceNtu: roundTo(one.foundNtu - one.assignedNtu, DIGITS.ntu),
          standardUncertaintyNtu: roundTo(foundUOfTolerance(one) * one.toleranceNtu, DIGITS.ntu),
          differenceOfTolerance: roundTo(foundOfTolerance(one), DIGITS.tolerances),
          standardUncertaintyOfTolerance: roundTo(foundUOfTolerance(one), DIGITS.tolerances),
          toleranceNtu: roundTo(one.toleranceNtu, DIGITS.ntu),
          analyzerNtu: roundTo(one.foundNtu, DIGITS.ntu),
          referenceNtu: roundTo(one.assignedNtu, DIGITS.ntu),
          use: one.use,
          against: one.standard ?? one.type.replaceAll('_', ' '),
        }),
  )
}

/** Both sides of a chart; none before its limit has been solved. */
function chart(
  context: PointContext,
  i: number,
  line: Line,
  atMs: number,
  sums: { readonly high: number; readonly low: number; readonly limit: number },
): (SeriesPoint | undefined)[] {
  if (sums.limit === 0) return []
  return (['high', 'low'] as const).map(side =>
    seriesPoint('turbidity_chart', { ...tagsOf(context, i, line), side }, atMs, {
      statistic: roundTo(sums[side], DIGITS.statistic),
      limit: roundTo(sums.limit, DIGITS.statistic),
      ofLimit: roundTo(sums[side] / sums.limit, DIGITS.statistic),
    }),
  )
}
