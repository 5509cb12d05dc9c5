import type { ChangeSums } from './changePosterior.js'
import { countUpTo, type OrderedSeries } from './orderedSeries.js'

/** A change of known form: nothing up to its onset, then a power of its age, and nothing again after its end. */
export interface Change {
  readonly power: 0 | 1 | 2
  readonly onset: number
  /** A change of power 0 comes in equal parts over this width round its onset. */
  readonly width: number
  /** Age at which one unit of it is there. */
  readonly fullAge: number
}

/**
 * For one form of effect in one series: sums over the values from each one on to the end of the change, from which
 * the sums of any onset follow.
 */
export interface TailSums {
  readonly series: OrderedSeries
  /** What one unit of the change adds to each value once it is there, before whitening. */
  readonly effect: Float64Array
  readonly ends: readonly number[]
  /** By stretch between ends: index of its last value, and the time from which its values' times are counted. */
  readonly stretches: readonly { readonly last: number; readonly centre: number }[]
  /** See COLUMNS. */
  readonly sums: Float64Array
}

/**
 * A whitened effect is a, b and c times the powers of the onset, where a, b, c are the effect times 1, d and d², d being
 * the time from the end of the stretch. Columns: aa ab ac bb bc cc, ay by cy, ag bg cg, all times the precision.
 * Counting from the end keeps every term as small as the age of the change: counted from the begin, young changes would
 * be small differences of large numbers.
 */
const COLUMNS = 12

/**
 * @param effect what one unit of the change adds to each value, in the order of the series as it came
 * @param ends ascending times at which a change that began before is over; a value at the end still has it
 * @param present end of the last stretch
 */
export function tailSums(
  series: OrderedSeries,
  effect: ArrayLike<number>,
  ends: readonly number[],
  present: number,
): TailSums {
  const { times, phi, precision, y, g, order } = series
  const ordered = Float64Array.from(order, i => effect[i]!)
  const stretches = [...ends, Infinity].map(end => ({
    last: countUpTo(times, end) - 1,
    centre: Math.min(end, present),
  }))
  const sums = new Float64Array(times.length * COLUMNS)
  let stretch = stretches.length - 1
  for (let i = times.length - 1; i >= 0; i--) {
    while (stretch > 0 && stretches[stretch - 1]!.last >= i) stretch -= 1
    const { last, centre } = stretches[stretch]!
    const d = times[i]! - centre
    const partnerD = i > 0 ? times[i - 1]! - centre : 0
    const partner = i > 0 ? phi[i]! * ordered[i - 1]! : 0
    const a = ordered[i]! - partner
    const b = ordered[i]! * d - partner * partnerD
    const c = ordered[i]! * d * d - partner * partnerD * partnerD
    const at = i * COLUMNS
    if (i < last) sums.copyWithin(at, at + COLUMNS, at + 2 * COLUMNS)
    const p = precision[i]!
    const py = p * y[i]!
    const pg = p * g[i]!
    sums[at]! += p * a * a
    sums[at + 1]! += p * a * b
    sums[at + 2]! += p * a * c
    sums[at + 3]! += p * b * b
    sums[at + 4]! += p * b * c
    sums[at + 5]! += p * c * c
    sums[at + 6]! += py * a
    sums[at + 7]! += py * b
    sums[at + 8]! += py * c
    sums[at + 9]! += pg * a
    sums[at + 10]! += pg * b
    sums[at + 11]! += pg * c
  }
  return { series, effect: ordered, ends, stretches, sums }
}

/**
 * Adds a series to the sums of a change. Takes the same time however long the series: the values while the change
 * comes, the first one when it is there and the first one after its end are added singly, the rest is a sum at hand.
 */
export function addChange(into: ChangeSums, tails: TailSums, change: Change): void {
  const { series, effect, ends, stretches } = tails
  const { times, phi, loading } = series
  const { onset } = change
  let stretch = 0
  while (stretch < ends.length && ends[stretch]! <= onset) stretch += 1
  const { last, centre } = stretches[stretch]!
  const reach = change.power === 0 ? change.width / 2 : 0
  let i = countUpTo(times, onset - reach)
  if (i > last) return
  const parts = { ff: 0, fy: 0, fg: 0 }
  let before = 0
  let comes = true
  for (; i <= last && comes; i++) {
    const now = effect[i]! * shareOf(change, times[i]!)
    addValue(parts, series, i, now - phi[i]! * before)
    before = now
    comes = times[i]! < onset + reach
  }
  if (i <= last) addTail(parts, tails.sums, i * COLUMNS, change, centre - onset)
  const after = last + 1
  if (after < times.length && phi[after] !== 0)
    addValue(parts, series, after, -phi[after]! * effect[last]! * shareOf(change, times[last]!))
  into.ff += parts.ff
  into.fy += parts.fy
  for (let k = 0; k < loading.length; k++) into.fg[k] = into.fg[k]! + loading[k]! * parts.fg
}

interface Parts {
  ff: number
  fy: number
  fg: number
}

function addValue(parts: Parts, { precision, y, g }: OrderedSeries, i: number, f: number): void {
  const weighted = f * precision[i]!
  parts.ff += f * weighted
  parts.fy += weighted * y[i]!
  parts.fg += weighted * g[i]!
}

/** @param age of the change at the centre of its stretch */
function addTail(parts: Parts, sums: Float64Array, at: number, { power, fullAge }: Change, age: number): void {
  if (power === 0) {
    parts.ff += sums[at]!
    parts.fy += sums[at + 6]!
    parts.fg += sums[at + 9]!
  } else if (power === 1) {
    // f = b + age·a, over fullAge
    const scale = 1 / fullAge
    parts.ff += scale * scale * (sums[at + 3]! + age * (2 * sums[at + 1]! + age * sums[at]!))
    parts.fy += scale * (sums[at + 7]! + age * sums[at + 6]!)
    parts.fg += scale * (sums[at + 10]! + age * sums[at + 9]!)
  } else {
    // f = c + 2·age·b + age²·a, over fullAge²
    const scale = 1 / (fullAge * fullAge)
    const aboveSquare = 4 * sums[at + 3]! + 2 * sums[at + 2]! + age * (4 * sums[at + 1]! + age * sums[at]!)
    parts.ff += scale * scale * (sums[at + 5]! + age * (4 * sums[at + 4]! + age * aboveSquare))
    parts.fy += scale * (sums[at + 8]! + age * (2 * sums[at + 7]! + age * sums[at + 6]!))
    parts.fg += scale * (sums[at + 11]! + age * (2 * sums[at + 10]! + age * sums[at + 9]!))
  }
}

/** Share of a change that has come, while it lasts. */
function shareOf({ power, onset, width, fullAge }: Change, time: number): number {
  const age = time - onset
  if (power === 0) return width > 0 ? Math.max(0, Math.min(1, age / width + 0.5)) : age > 0 ? 1 : 0
  if (age <= 0) return 0
  return power === 1 ? age / fullAge : (age / fullAge) * (age / fullAge)
}
