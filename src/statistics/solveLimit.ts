import { cappedArl, twoSidedArl } from './cusumRunLength.js'
import { ln } from './distributions.js'
import { assertPositive } from './finite.js'
import { increasingRoot } from './increasingRoot.js'

/** Least limit in sigma: below it a chart is a test of single values, and h says nothing about the alarm rate. */
export const LIMIT_FLOOR_SIGMA = 0.3

// Nearer than this the limit is hundreds of sigma, and no budget of alarms can be kept by any useful chart.
const LEAST_DISTANCE = 0.01
const LONGEST_ARL = 1e12

export interface LimitRequest {
  /** Reference value in sigma, above the shift. */
  readonly k: number
  /** Average run length asked for, in values. */
  readonly arl: number
  /** Mean of the values, in sigma, at which that run length holds; 0 if left out. */
  readonly shift?: number
  /** Sum before the first value as a share of the limit, 0 to 1, to 0.5 with two sides; 0 if left out. */
  readonly headStartFraction?: number
  /** Largest rise in one step as a share of the limit; none if left out. */
  readonly capFraction?: number
}

/**
 * Limit h of the upper CUSUM with the run length asked for, increments capped at capFraction · h if that is given.
 * The equation is that of cappedArl.
 * @returns h in sigma, 6 significant digits; LIMIT_FLOOR_SIGMA where the run length is longer than asked even there
 * @throws RangeError naming what is out of range
 */
export function solveOneSidedLimit(request: LimitRequest): number {
  const { k, arl, shift = 0, headStartFraction = 0, capFraction = Infinity } = request
  assertRequest(request, k - shift)
  const arlAt = (h: number) => cappedArl({ k, h, shift, cap: h * capFraction, headStart: h * headStartFraction })
  return solveLimit(arlAt, arl, k - shift, siegmundLimit(arl, k - shift))
}

/** Limit h common to an upper and a lower CUSUM run together; otherwise as solveOneSidedLimit. */
export function solveTwoSidedLimit(request: LimitRequest): number {
  const { k, arl, shift = 0, headStartFraction = 0, capFraction = Infinity } = request
  const distance = k - Math.abs(shift)
  assertRequest(request, distance, 0.5)
  const arlAt = (h: number) => twoSidedArl({ k, h, shift, cap: h * capFraction, headStart: h * headStartFraction })
  return solveLimit(arlAt, arl, distance, siegmundLimit(2 * arl, distance))
}

function assertRequest(request: LimitRequest, distance: number, mostHeadStart = 1): void {
  const { k, arl, shift = 0, headStartFraction = 0, capFraction = Infinity } = request
  assertPositive('k', k)
  if (!Number.isFinite(shift)) throw new RangeError(`shift must be a finite number, got ${shift}`)
  if (!(distance >= LEAST_DISTANCE))
    throw new RangeError(`k must be at least ${LEAST_DISTANCE} above shift ${shift}, got ${k}`)
  if (!(arl > 1 && arl <= LONGEST_ARL)) throw new RangeError(`arl must be above 1 and at most 1e12, got ${arl}`)
  if (!(headStartFraction >= 0 && headStartFraction <= mostHeadStart))
    throw new RangeError(`headStartFraction must be from 0 to ${mostHeadStart}, got ${headStartFraction}`)
  if (!(capFraction > 0)) throw new RangeError(`capFraction must be above 0, got ${capFraction}`)
}

// On ln ARL, which is nearly straight in h; its slope far out is 2(k − shift).
function solveLimit(arlAt: (h: number) => number, arl: number, distance: number, start: number): number {
  const target = ln(arl)
  const missAt = (h: number) => ln(arlAt(h)) - target
  if (missAt(LIMIT_FLOOR_SIGMA) >= 0) return LIMIT_FLOOR_SIGMA
  const search = { low: LIMIT_FLOOR_SIGMA, start: Math.max(start, LIMIT_FLOOR_SIGMA), slope: 2 * distance }
  return roundToSixDigits(increasingRoot(missAt, search))
}

/**
 * Start of the search: (exp(2Δb) − 2Δb − 1)/(2Δ²) = ARL with b = h + 1.166, Δ = k − shift (Siegmund 1985, Sequential
 * Analysis), by fixed-point steps on the exponential.
 */
function siegmundLimit(arl: number, distance: number): number {
  const scaled = 2 * distance * distance * arl
  let exponent = ln(1 + scaled)
  for (let i = 0; i < 6; i++) exponent = ln(1 + scaled + exponent)
  return exponent / (2 * distance) - 1.166
}

function roundToSixDigits(value: number): number {
  return Number(value.toPrecision(6))
}
