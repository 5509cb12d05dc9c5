import { Buffer } from 'node:buffer'
import { type Fault, showValue } from '../model/faults.js'
import type { Rejected } from '../model/recordedInput.js'

/** Greatest size of one message, bytes; checked before anything is parsed. */
export const MAX_MESSAGE_BYTES = 65_536
const EXCERPT_LENGTH = 1_024
const MALFORMED_RULE = 'must be one whole JSON value; NaN, Infinity and comments are not JSON'

export type ParsedJson =
  { readonly ok: true; readonly value: unknown } | { readonly ok: false; readonly rejected: Rejected }

/** Parses one message as it came over a wire or stood on a line. A byte-order mark is not part of the message. */
export function parseMessageBytes(bytes: Uint8Array): ParsedJson {
  const buffer = Buffer.from(bytes.buffer, bytes.byteOffset, bytes.byteLength)
  if (buffer.length > MAX_MESSAGE_BYTES) {
    return { ok: false, rejected: tooLarge(buffer.length, buffer.toString('utf8', 0, EXCERPT_LENGTH)) }
  }
  return parseMessageText(buffer.toString('utf8'))
}

/** As `parseMessageBytes`, for text whose size was checked before. */
export function parseMessageText(text: string): ParsedJson {
  try {
    return { ok: true, value: JSON.parse(text.startsWith('\ufeff') ? text.slice(1) : text) }
  } catch {
    // The engine's own words differ between versions and would make two machines publish different bytes.
    const fault: Fault = { code: 'malformed_json', field: '', value: showValue(text), rule: MALFORMED_RULE }
    return { ok: false, rejected: rejected([fault], text) }
  }
}

/** What the journal holds for a message that could not be decoded. */
export function rejected(faults: readonly Fault[], came: string): Rejected {
  return { kind: 'rejected', faults, excerpt: visible(came.slice(0, EXCERPT_LENGTH)) }
}

/** @param sizeBytes what came; 0 where nobody waited for its end  @param beginning its first characters */
export function tooLarge(sizeBytes: number, beginning: string): Rejected {
  const value = sizeBytes > 0 ? `${String(sizeBytes)} bytes` : `more than ${String(MAX_MESSAGE_BYTES)} bytes`
  const rule = `must be at most ${String(MAX_MESSAGE_BYTES)} bytes`
  return rejected([{ code: 'too_large', field: '', value, rule }], beginning)
}

function visible(text: string): string {
  return text.replace(
    /[\u0000-\u001f\u007f-\u009f\u2028\u2029]/g,
    c => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
  )
}
