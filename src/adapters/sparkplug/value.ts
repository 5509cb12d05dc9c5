import type { WireValue } from './wire.js'

/** Integer types of Sparkplug 3.0.0, chapter 6.4.16: code, bits, whether it may be negative. */
const INTEGERS: ReadonlyMap<number, { readonly bits: number; readonly signed: boolean }> = new Map([
  [1, { bits: 8, signed: true }],
  [2, { bits: 16, signed: true }],
  [3, { bits: 32, signed: true }],
  [4, { bits: 64, signed: true }],
  [5, { bits: 8, signed: false }],
  [6, { bits: 16, signed: false }],
  [7, { bits: 32, signed: false }],
  [8, { bits: 64, signed: false }],
])
const FRACTIONS: ReadonlySet<number> = new Set([9, 10])
const BOOLEAN = 11
const TEXTS: ReadonlySet<number> = new Set([12, 14])

/**
 * The number a metric holds; NaN and infinities as they came. Negative integers travel as two's complement in a field
 * without sign, of the width of their type or of the field (both are met). UInt32 travels in either integer field.
 * @param datatype as the birth or the metric says; without one integers count as without sign
 * @returns undefined where it is no number of that type, or an integer a double cannot hold
 */
export function numberOf(value: WireValue, datatype: number | undefined): number | undefined {
  if (value.field === 'float' || value.field === 'double') {
    if (datatype !== undefined && !FRACTIONS.has(datatype)) return undefined
    return value.field === 'float' ? shortest(value.number) : value.number
  }
  if (value.field !== 'int' && value.field !== 'long') return undefined
  const integer = datatype === undefined ? { bits: 64, signed: false } : INTEGERS.get(datatype)
  if (integer === undefined) return undefined
  const whole = integer.signed ? signed(value.bits, integer.bits) : unsigned(value.bits, integer.bits)
  if (whole === undefined || whole > MOST || whole < -MOST) return undefined
  return Number(whole)
}

const MOST = BigInt(Number.MAX_SAFE_INTEGER)

function signed(sent: bigint, bits: number): bigint | undefined {
  const whole = BigInt.asIntN(bits, sent)
  return [bits, 32, 64].some(width => BigInt.asUintN(width, whole) === sent) ? whole : undefined
}

function unsigned(sent: bigint, bits: number): bigint | undefined {
  return BigInt.asUintN(bits, sent) === sent ? sent : undefined
}

/**
 * The shortest decimal that is this Float: 0.31 was written, 0.3100000023841858 is what its 32 bits hold. The steps in
 * which an analyzer reports would be lost otherwise. Nine digits always suffice (IEEE 754).
 */
function shortest(float: number): number {
  for (let digits = 6; digits <= 9; digits++) {
    const short = Number(float.toPrecision(digits))
    if (Math.fround(short) === float) return short
  }
  return float
}

/** The text by which a word table or a list of words knows a value: text, true or false, or a whole number. */
export function wordOf(value: WireValue, datatype: number | undefined): string | undefined {
  if (value.field === 'string') return datatype === undefined || TEXTS.has(datatype) ? value.text : undefined
  if (value.field === 'boolean') return datatype === undefined || datatype === BOOLEAN ? String(value.truth) : undefined
  const number = numberOf(value, datatype)
  return number === undefined ? undefined : String(number)
}

/**
 * What a quality code says. Sparkplug knows 0 bad, 192 good and 500 stale
 * (tck-id-payloads-propertyset-quality-value-value); the other codes up to 255 are read by their two upper bits as OPC
 * writes them (common practice, no source). A code nobody has told us about is never good.
 */
export function qualityOfCode(code: number): 'good' | 'uncertain' | 'bad' {
  if (code >= 192 && code <= 255) return 'good'
  return code >= 64 && code < 128 ? 'uncertain' : 'bad'
}
