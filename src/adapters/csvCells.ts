import { type Fault, showValue } from '../model/faults.js'
import { VALUE_OF_BAD_QUALITY } from './mapping.js'
import { type Quality, readQualityWord } from './qualityWords.js'

/** How the cells of a file are written. */
export interface CellFormat {
  readonly delimiter: string
  readonly decimal: '.' | ',' | undefined
  readonly qualities: Readonly<Record<string, Quality>>
}

export type Cell<T> = { readonly ok: true; readonly value: T } | { readonly ok: false; readonly fault: Fault }

/** Computed cells come with all the digits of a double, such as 0.052000000000000005. */
const POINT_NUMBER = /^[+-]?(\d{1,15}(\.\d{0,25})?|\.\d{1,25})([eE][+-]?\d{1,3})?$/
const COMMA_NUMBER = /^[+-]?(\d{1,15}(,\d{0,25})?|,\d{1,25})([eE][+-]?\d{1,3})?$/

/** A number with the file's decimal mark. Thousands separators are never read: 1,234 would be two numbers apart. */
export function readNumber(field: string, text: string, format: CellFormat): Cell<number> {
  const decimal = format.decimal ?? (format.delimiter === ',' || !text.includes(',') ? '.' : ',')
  if (!(decimal === '.' ? POINT_NUMBER : COMMA_NUMBER).test(text)) {
    return bad(field, text, `must be a number with a decimal ${decimal === '.' ? 'point' : 'comma'}`)
  }
  const value = Number(decimal === '.' ? text : text.replace(',', '.'))
  return Number.isFinite(value) ? { ok: true, value } : bad(field, text, 'must be a number below 1.8e308')
}

/** A laboratory result: a number, or `<` or `>` and one, in the form a grab message has it. */
export function readResult(field: string, text: string, format: CellFormat): Cell<number | string> {
  const bound = /^([<>])\s*(.*)$/.exec(text)
  if (bound === null) return readNumber(field, text, format)
  const limit = readNumber(field, bound[2]!, format)
  return limit.ok ? { ok: true, value: `${bound[1]!}${String(limit.value)}` } : limit
}

export interface MeasuredCell {
  readonly value: number
  readonly quality?: Quality
}

/**
 * A measured value with its quality. A word for bad quality in place of the number gives a reading of bad quality,
 * which is counted and never used; an empty cell is no reading.
 */
export function readMeasured(
  field: string,
  text: string,
  quality: string | undefined,
  format: CellFormat,
): Cell<MeasuredCell | undefined> {
  if (text === '') return { ok: true, value: undefined }
  const said = quality === undefined || quality === '' ? undefined : meaningOf(quality, format)
  if (quality !== undefined && quality !== '' && said === undefined) {
    const rule = `must be good, uncertain, bad, or one of the map's qualities: ${Object.keys(format.qualities).join(', ')}`
    return bad('reading.quality', quality, rule)
  }
  const value = readNumber(field, text, format)
  if (value.ok) return { ok: true, value: { value: value.value, ...(said === undefined ? {} : { quality: said }) } }
  if (meaningOf(text, format) === 'bad') return { ok: true, value: { value: VALUE_OF_BAD_QUALITY, quality: 'bad' } }
  return { ok: false, fault: { ...value.fault, rule: `${value.fault.rule}, or a word for bad quality` } }
}

function meaningOf(word: string, format: CellFormat): Quality | undefined {
  return Object.hasOwn(format.qualities, word) ? format.qualities[word] : readQualityWord(word)
}

export function readBoolean(field: string, text: string): Cell<boolean> {
  const word = text.toLowerCase()
  if (['true', 'yes', '1'].includes(word)) return { ok: true, value: true }
  if (['false', 'no', '0'].includes(word)) return { ok: true, value: false }
  return bad(field, text, 'must be yes or no')
}

function bad(field: string, text: string, rule: string): { readonly ok: false; readonly fault: Fault } {
  return { ok: false, fault: { code: 'invalid_field', field, value: showValue(text), rule } }
}
