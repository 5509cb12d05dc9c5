import { laboratoryVariance } from '../compare/grab.js'
import { type LaboratoryOffset, sharedOffset } from '../compare/laboratoryOffset.js'
import { DIGITS, kept, roundTo } from '../model/rounding.js'
import { sayDay } from '../model/time.js'
import type { Tolerance } from '../model/tolerance.js'
import { estimateInterval, type FittedLine, fittedLine, predictedValue } from '../statistics/fittedLine.js'
import { IDENTITY, isInJointRegion, jointRegionOutline } from '../statistics/jointRegion.js'
import { median } from '../statistics/robust.js'
import { scaledByScatter, slopeSdOfIdentity, type YorkInput, yorkRegression } from '../statistics/yorkRegression.js'
import type { PointContext } from './context.js'
import type { PointState, UnitFold } from './pointState.js'

/** The analyzer on the grab samples since its last adjusting work. It describes; decisions rest on the posterior. */
export interface GrabComparison {
  /** Last adjusting work; absent where none is on record. */
  readonly sinceMs?: number
  readonly pairs: readonly ComparedPair[]
  /** Grab results that are bounds, such as "<0.1": a line cannot use them. */
  readonly bounds: number
  /** What the laboratory is taken to read high at this point; grab values here are net of it, as in the charts. */
  readonly laboratoryOffsetNtu: number
  readonly tolerance: Tolerance
  /** Why there is no line. */
  readonly missing?: string
  readonly line?: ComparisonLine
}

/** Values with standard uncertainties, NTU. */
export interface ComparedPair {
  readonly grabNtu: number
  readonly uGrabNtu: number
  readonly analyzerNtu: number
  readonly uAnalyzerNtu: number
}

export interface ComparisonEstimate {
  readonly value: number
  readonly ci95: readonly [number, number]
}

/** analyzer = zero + (1 + span) · grab, by York regression. */
export interface ComparisonLine {
  readonly zeroNtu: ComparisonEstimate
  /** Share of the level. */
  readonly spanRel: ComparisonEstimate
  /** Scatter about the line over what the uncertainties explain, as variances; above 1 the intervals are widened. */
  readonly scatterRatio: number
  /** Edge of the joint 95 % region of [zero NTU, span share], in order round it. */
  readonly region: readonly (readonly [number, number])[]
  /** Absent where the water's range is too narrow to tell zero from span. */
  readonly told?: {
    /** Zero 0 and span 0 % together lie inside the joint 95 % region. */
    readonly readsRight: boolean
    /** The line's bias at the median level of the grab samples. */
    readonly levelNtu: number
    readonly biasNtu: ComparisonEstimate
  }
}

const LEAST_PAIRS = 5
/** Beyond this half width of the 95 % interval of the span, zero and span are not told apart. */
const WIDEST_SPAN = 0.3
/** Beyond this the levels bear no line at all: intervals of a line through such values miss the truth too often. */
const WIDEST_LINE = 1
/** 64 points round the region. */
const OUTLINE_HALVINGS = 4
/** Of a pair's variance at most this share goes to the grab sample: the analyzer's window is never free of noise. */
const MOST_OF_GRAB = 0.99

/** The grab samples of a unit since its last adjusting work, with the line through them where they bear one. */
export function grabComparison(context: PointContext, point: PointState, unit: UnitFold, i: number): GrabComparison {
  const offset = sharedOffset(point.fold.units.map(one => one.offset))
  const since = point.pairs.flatMap(pair => {
    const own = pair.units[i]
    // A difference without any uncertainty has no weight of its own.
    if (own == null || own.uNtu === 0) return []
    return pair.use === 'used' && pair.atMs > unit.adjustedMs ? [{ pair, own }] : []
  })
  const values = since.filter(({ pair }) => pair.qualifier === null)
  const input = {
    x: values.map(({ pair }) => pair.grabNtu + offset.ntu),
    y: values.map(({ own }) => own.ntu),
    ...parted(context, i, values),
  }
  return {
    ...(unit.adjustedMs > 0 ? { sinceMs: unit.adjustedMs } : {}),
    pairs: input.x.map((x, k) => ({
      grabNtu: roundTo(x, DIGITS.ntu),
      uGrabNtu: roundTo(input.ux[k]!, DIGITS.ntu),
      analyzerNtu: roundTo(input.y[k]!, DIGITS.ntu),
      uAnalyzerNtu: roundTo(input.uy[k]!, DIGITS.ntu),
    })),
    bounds: since.length - values.length,
    laboratoryOffsetNtu: roundTo(offset.ntu, DIGITS.ntu),
    tolerance: context.analyzers[i]?.tolerance ?? context.point.tolerance,
    ...lineOrReason(input, offset, unit.adjustedMs),
  }
}

interface Value {
  readonly pair: PointState['pairs'][number]
  readonly own: NonNullable<PointState['pairs'][number]['units'][number]>
}

/** Parts the uncertainty of each difference: the laboratory's random part by the plan of the point, the rest the analyzer's. */
function parted(context: PointContext, i: number, values: readonly Value[]): Pick<YorkInput, 'ux' | 'uy'> {
  const unit = context.analyzers[i]?.unit ?? 'NTU'
  const variances = values.map(({ pair, own }) => {
    const whole = own.uNtu * own.uNtu
    const grab = Math.min(laboratoryVariance({ unit }, pair.grabNtu, context.point.grab), MOST_OF_GRAB * whole)
    return { grab, analyzer: whole - grab }
  })
  return { ux: variances.map(one => Math.sqrt(one.grab)), uy: variances.map(one => Math.sqrt(one.analyzer)) }
}

function lineOrReason(
  input: YorkInput,
  offset: LaboratoryOffset,
  adjustedMs: number,
): Pick<GrabComparison, 'line' | 'missing'> {
  const { x } = input
  if (x.length < LEAST_PAIRS) {
    const since = adjustedMs > 0 ? ` since the adjusting work of ${sayDay(adjustedMs)}` : ''
    return { missing: `needs at least ${String(LEAST_PAIRS)} grab samples${since}, has ${String(x.length)}` }
  }
  if (x.every(value => value === x[0])) return { missing: 'all grab samples have one value; a line needs two levels' }
  const york = yorkRegression(input)
  const line = scaledByScatter(york)
  const widened = line.slopeSd / york.slopeSd
  const reach = halfWidth({ value: 0, sd: widened * slopeSdOfIdentity(input) }, line.df)
  if (!york.converged || !(reach <= WIDEST_LINE))
    return {
      missing:
        'the levels of the grab samples differ too little, beside their uncertainty, to tell zero from span or to ' +
        'bear a line at all',
    }
  const common = withOffset(line, offset)
  const isNarrow = Math.max(reach, halfWidth({ value: line.slope, sd: line.slopeSd }, line.df)) > WIDEST_SPAN
  return {
    line: {
      zeroNtu: estimate(common.intercept, common.interceptSd, common.df, DIGITS.ntu),
      spanRel: estimate(common.slope - 1, common.slopeSd, common.df, DIGITS.relative),
      scatterRatio: roundTo(york.chiSquare / (york.n - 2), DIGITS.statistic),
      region: jointRegionOutline(common, OUTLINE_HALVINGS).map(
        ({ intercept, slope }) => [kept(intercept), kept(slope - 1)] as const,
      ),
      ...(isNarrow ? {} : { told: told(common, roundTo(median(x), DIGITS.ntu)) }),
    },
  }
}

function told(line: FittedLine, levelNtu: number): NonNullable<ComparisonLine['told']> {
  const { value, sd } = predictedValue(line, levelNtu)
  return {
    readsRight: isInJointRegion(line, IDENTITY),
    levelNtu,
    biasNtu: estimate(value - levelNtu, sd, line.df, DIGITS.ntu),
  }
}

/** An error of the laboratory that all grab samples share moves the line along x: it goes into the zero alone. */
function withOffset(line: FittedLine, { variance }: LaboratoryOffset): FittedLine {
  return fittedLine({
    ...line,
    centreSd: Math.sqrt(line.centreSd * line.centreSd + line.slope * line.slope * variance),
  })
}

function halfWidth(of: { readonly value: number; readonly sd: number }, df: number): number {
  const [lower, upper] = estimateInterval(of, df)
  return (upper - lower) / 2
}

function estimate(value: number, sd: number, df: number, places: number): ComparisonEstimate {
  const [lower, upper] = estimateInterval({ value, sd }, df)
  return { value: roundTo(value, places), ci95: [roundTo(lower, places), roundTo(upper, places)] }
}
