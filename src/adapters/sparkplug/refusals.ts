import { Buffer } from 'node:buffer'
import { type Fault, type FaultCode, showValue } from '../../model/faults.js'
import type { Rejected } from '../../model/recordedInput.js'
import { rejected } from '../payload.js'

/** One metric, or a whole payload, that is not taken. */
export interface Refusal {
  readonly code: FaultCode
  readonly field: string
  readonly value: unknown
  readonly rule: string
}

const EXCERPT_BYTES = 400

/**
 * One refused message for a packet, however many metrics are refused: what breaks the same rule is one fault that says
 * how many. The excerpt is the beginning of the payload in hexadecimal.
 */
export function refusedPayload(refusals: readonly Refusal[], payload: Uint8Array): Rejected {
  const groups = new Map<string, Refusal[]>()
  for (const refusal of refusals) {
    const key = JSON.stringify([refusal.code, refusal.field, refusal.rule])
    const group = groups.get(key)
    if (group === undefined) groups.set(key, [refusal])
    else group.push(refusal)
  }
  return rejected([...groups.values()].map(toFault), hexOf(payload))
}

function toFault(group: readonly Refusal[]): Fault {
  const { code, field, rule } = group[0]!
  const shown = group.map(({ value }) => showValue(value))
  const value = shown.length === 1 ? shown[0]! : showValue(`${String(shown.length)} metrics: ${shown.join(', ')}`)
  return { code, field, value, rule }
}

export function hexOf(payload: Uint8Array): string {
  const bytes = Buffer.from(payload.buffer, payload.byteOffset, Math.min(payload.byteLength, EXCERPT_BYTES))
  return bytes.toString('hex')
}
