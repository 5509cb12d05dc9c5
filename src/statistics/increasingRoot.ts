const CLOSE_ENOUGH = 1e-9

/**
 * Zero of an increasing function by secant steps kept inside the bracket found so far.
 * @param missAt below 0 left of the zero; Infinity far right of it is allowed  @param low where missAt is below 0
 * @param start first guess, above low  @param slope guess of the slope there
 * @returns the zero, to a relative step of 1e-9
 */
export function increasingRoot(
  missAt: (x: number) => number,
  { low, start, slope }: { readonly low: number; readonly start: number; readonly slope: number },
): number {
  let tooLow = low
  let tooHigh = Infinity
  let x = start
  let secant = slope
  let previous: { x: number; miss: number } | undefined
  for (;;) {
    const miss = missAt(x)
    if (miss < 0) tooLow = x
    else tooHigh = x
    if (previous !== undefined && miss !== previous.miss) secant = (miss - previous.miss) / (x - previous.x)
    previous = miss < Infinity ? { x, miss } : undefined
    let next = x - miss / secant
    if (!(next > tooLow && next < tooHigh)) next = tooHigh < Infinity ? (tooLow + tooHigh) / 2 : 2 * tooLow
    if (Math.abs(next - x) <= CLOSE_ENOUGH * x || tooHigh - tooLow <= CLOSE_ENOUGH * x) return next
    x = next
  }
}
