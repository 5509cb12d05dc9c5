import { rejected } from '../adapters/payload.js'
import { canonicalJson } from '../model/canonicalJson.js'
import type { Fault } from '../model/faults.js'
import type { RecordedInput, Rejected } from '../model/recordedInput.js'

export interface Journaled {
  /** Canonical JSON. */
  readonly text: string
  readonly input: RecordedInput
}

/**
 * The text for the journal and the input as read back from it: what the core sees now is what a replay will see, down
 * to −0 and members given twice. JSON that has no canonical form (numbers beyond a double, nesting beyond the stack)
 * is recorded as refused.
 */
export function journaled(given: RecordedInput): Journaled {
  return journaledFlat(given) ?? journaledWhole(given)
}

/** Works for every input; `journaled` goes a shorter way for most and must agree with this one. */
export function journaledWhole(given: RecordedInput): Journaled {
  let text: string
  try {
    text = canonicalJson(given)
  } catch (error) {
    if (!(error instanceof TypeError || error instanceof RangeError)) throw error
    const fault: Fault = {
      code: 'malformed_json',
      field: '',
      value: 'a value',
      rule: 'must hold numbers a double can hold, and be nested less deeply',
    }
    text = canonicalJson({ ...given, message: rejected([fault], '') satisfies Rejected })
  }
  return { text, input: JSON.parse(text) as RecordedInput }
}

/**
 * Messages without anything inside their members, as readings are: a copy with its members in canonical order is
 * written by the engine itself, and is what would be read back.
 */
function journaledFlat(given: RecordedInput): Journaled | undefined {
  const { feed, message, position, receivedAt } = given
  if (typeof message !== 'object' || message === null || Array.isArray(message)) return undefined
  const copy: Record<string, unknown> = {}
  // Without a comparison, sort goes by code units.
  for (const key of Object.keys(message).sort()) {
    const member = (message as Record<string, unknown>)[key]
    if (!comesBackAsItIs(member) || !staysInOrder(key)) return undefined
    copy[key] = member
  }
  const input = {
    feed,
    message: copy,
    ...(position === undefined ? {} : { position }),
    ...(receivedAt === undefined ? {} : { receivedAt }),
  }
  return { text: JSON.stringify(input), input }
}

function comesBackAsItIs(member: unknown): boolean {
  if (typeof member === 'number') return Number.isFinite(member) && !Object.is(member, -0)
  return typeof member === 'string' || typeof member === 'boolean' || member === null
}

/** Objects put members that look like whole numbers first, and one name is not a member at all when it is set. */
function staysInOrder(key: string): boolean {
  return key !== '__proto__' && !/^\d/.test(key)
}
