import { kept } from '../../model/rounding.js'
import { DAY_MS } from '../../model/time.js'
import { type ErrorValue, meanOf } from './series.js'
import type { SignOf } from './sign.js'

const SIDE_MS = 1.5 * DAY_MS
/** Drop over its standard uncertainty, and over the error before. */
const CLEAR = 3
const LEAST_SHARE = 0.4

/**
 * An error upward that falls where the filter was backwashed: what sat on window or cell was washed off. A drift does not
 * notice a backwash.
 * @param values what the unit shows against something independent; @param returnsMs returns to service
 */
export function washedOffSign(
  values: readonly ErrorValue[],
  returnsMs: readonly number[],
): SignOf<'washed_off'> | undefined {
  const drops = returnsMs.flatMap(atMs => {
    const before = meanOf(values.filter(value => value.atMs <= atMs && value.atMs > atMs - SIDE_MS))
    const after = meanOf(values.filter(value => value.atMs > atMs && value.atMs <= atMs + SIDE_MS))
    if (before === undefined || after === undefined || before.ntu <= 0) return []
    const drop = before.ntu - after.ntu
    const isClear = drop >= CLEAR * Math.sqrt(before.uNtu * before.uNtu + after.uNtu * after.uNtu)
    return isClear && drop >= LEAST_SHARE * before.ntu ? [drop] : []
  })
  return drops.length === 0 ? undefined : { kind: 'washed_off', times: drops.length, dropNtu: kept(Math.max(...drops)) }
}
