/**
 * Refuses an empty list and anything that is no finite number: NaN in a median is silent nonsense.
 * @throws RangeError naming the argument, the position and the value
 */
export function assertFinite(name: string, values: ArrayLike<number>): void {
  if (values.length === 0) throw new RangeError(`${name} must not be empty`)
  for (let i = 0; i < values.length; i++) {
    if (!Number.isFinite(values[i])) throw new RangeError(`${name}[${i}] must be a finite number, got ${values[i]}`)
  }
}

/** @throws RangeError naming the argument and the value unless it is a finite number above 0 */
export function assertPositive(name: string, value: number): void {
  if (!(value > 0 && value < Infinity)) throw new RangeError(`${name} must be a finite number above 0, got ${value}`)
}

/** @throws RangeError naming the argument unless both are finite, not empty and of equal length */
export function assertPairs(x: ArrayLike<number>, y: ArrayLike<number>): void {
  assertFinite('x', x)
  assertFinite('y', y)
  if (x.length !== y.length) throw new RangeError(`y must have as many values as x (${x.length}), got ${y.length}`)
}
