/** Digits of published numbers, so that the last bits of a computation never reach an event. */
export const DIGITS = { ntu: 4, tolerances: 3, probability: 3, relative: 4, statistic: 3, days: 1 } as const

/** Rounds to decimal places, half up; −0 becomes 0 because canonical JSON would tell them apart from nothing. */
export function roundTo(value: number, places: number): number {
  const scale = POWERS_OF_TEN[places]
  if (scale === undefined) throw new RangeError(`places must be a whole number from 0 to 9, got ${String(places)}`)
  const rounded = Math.round(value * scale) / scale
  return rounded === 0 ? 0 : rounded
}

/** Rounds to significant digits; used where a limit is stored beside what it was solved from. */
export function roundSignificant(value: number, digits: number): number {
  return Number.isFinite(value) ? Number(value.toPrecision(digits)) : value
}

/** What a log keeps of a value: six significant digits, short as text, and used as kept, so that a rebuild sees the same. */
export function kept(value: number): number {
  return roundSignificant(value, 6)
}

const POWERS_OF_TEN = [1, 10, 100, 1e3, 1e4, 1e5, 1e6, 1e7, 1e8, 1e9] as const
