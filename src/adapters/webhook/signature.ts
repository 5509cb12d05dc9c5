import { Buffer } from 'node:buffer'
import { createHmac } from 'node:crypto'

/** Longest and shortest key of a symmetric signature: Standard Webhooks 1.0.0, "Signature scheme". */
const MIN_KEY_BYTES = 24
const MAX_KEY_BYTES = 64

export const SIGNING_KEY_RULE = `must be whsec_ and the base64 of ${MIN_KEY_BYTES} to ${MAX_KEY_BYTES} bytes`

const SIGNING_KEY = /^whsec_((?:[A-Za-z0-9+/]{4})*(?:[A-Za-z0-9+/]{2}==|[A-Za-z0-9+/]{3}=)?)$/

/** @returns the key's bytes; undefined where the text breaks SIGNING_KEY_RULE */
export function readSigningKey(text: string): Buffer | undefined {
  const base64 = SIGNING_KEY.exec(text)?.[1]
  if (base64 === undefined) return undefined
  const key = Buffer.from(base64, 'base64')
  return key.length < MIN_KEY_BYTES || key.length > MAX_KEY_BYTES ? undefined : key
}

/**
 * Headers that let a receiver tell that the body is ours, whole and fresh: Standard Webhooks 1.0.0. One signature for
 * each key, so that a receiver with the old key and one with the new both find theirs.
 * @param id stays the same when an event is sent again: the receiver knows a repeat by it
 * @param atS time of this attempt, Unix seconds: receivers refuse what is minutes off
 */
export function signatureHeaders(
  keys: readonly Buffer[],
  id: string,
  atS: number,
  body: string,
): Readonly<Record<string, string>> {
  const timestamp = String(atS)
  const signatures = keys.map(
    key => `v1,${createHmac('sha256', key).update(`${id}.${timestamp}.${body}`).digest('base64')}`,
  )
  return { 'webhook-id': id, 'webhook-timestamp': timestamp, 'webhook-signature': signatures.join(' ') }
}
