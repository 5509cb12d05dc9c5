import { chiSquareQuantile, fQuantile } from './distributions.js'
import { assertCoverage, type FittedLine } from './fittedLine.js'

/** A line without its uncertainty. */
export interface PlainLine {
  readonly intercept: number
  readonly slope: number
}

/** No zero error and no span error. */
export const IDENTITY: PlainLine = { intercept: 0, slope: 1 }

/**
 * Squared distance of another line from the fitted one, d′ V⁻¹ d with V the covariance matrix of intercept and slope.
 * Where the fit has no uncertainty at all it is 0 for the fitted line itself and Infinity for every other.
 */
export function jointStatistic(line: FittedLine, { intercept, slope }: PlainLine): number {
  const alongSlope = slope - line.slope
  const atCentre = intercept - line.intercept + line.centreX * alongSlope
  return squareOf(alongSlope, line.slopeSd) + squareOf(atCentre, line.centreSd)
}

/**
 * Limit of the squared distance that intercept and slope together keep with the given probability: twice F with 2 and
 * df degrees of freedom, chi-square with 2 where the uncertainties are known (df Infinity). Draper and Smith, Applied
 * Regression Analysis, joint confidence region; from memory.
 * @throws RangeError for a coverage not above 0 and below 1
 */
export function jointLimit(df: number, coverage = 0.95): number {
  assertCoverage(coverage)
  return df === Infinity ? chiSquareQuantile(coverage, 2) : 2 * fQuantile(coverage, 2, df)
}

/** Whether a line, such as `IDENTITY`, lies inside the joint region of the fitted one. @throws as jointLimit */
export function isInJointRegion(line: FittedLine, other: PlainLine, coverage = 0.95): boolean {
  return jointStatistic(line, other) <= jointLimit(line.df, coverage)
}

/**
 * The edge of the joint region, an ellipse, as points in order round it, the first at the greatest intercept:
 * estimate + √limit · L (cos t, sin t), L the lower Cholesky factor of the covariance matrix, t in even steps.
 * @param halvings how often the four quarter turns are halved: 4 · 2^halvings points
 * @throws as jointLimit, and RangeError for halvings that are no whole number from 0 to 10
 */
export function jointRegionOutline(line: FittedLine, halvings: number, coverage = 0.95): PlainLine[] {
  if (!(Number.isInteger(halvings) && halvings >= 0 && halvings <= 10))
    throw new RangeError(`halvings must be a whole number from 0 to 10, got ${halvings}`)
  const reach = Math.sqrt(jointLimit(line.df, coverage))
  const { interceptSd, slopeSd, covariance, centreSd } = line
  const shared = interceptSd > 0 ? covariance / interceptSd : 0
  const own = interceptSd > 0 ? (slopeSd * centreSd) / interceptSd : slopeSd
  return directions(halvings).map(([along, across]) => ({
    intercept: line.intercept + reach * interceptSd * along,
    slope: line.slope + reach * (shared * along + own * across),
  }))
}

type Direction = readonly [number, number]

/** Unit vectors in even steps round the circle, by halving angles: square roots are the same on every engine. */
function directions(halvings: number): readonly Direction[] {
  let round: readonly Direction[] = [
    [1, 0],
    [0, 1],
    [-1, 0],
    [0, -1],
  ]
  for (let k = 0; k < halvings; k++) round = round.flatMap((one, i) => [one, between(one, round[i + 1] ?? round[0]!)])
  return round
}

function between([x1, y1]: Direction, [x2, y2]: Direction): Direction {
  const [x, y] = [x1 + x2, y1 + y2]
  const length = Math.sqrt(x * x + y * y)
  return [x / length, y / length]
}

function squareOf(distance: number, sd: number): number {
  return distance === 0 ? 0 : (distance / sd) * (distance / sd)
}
