/** Why a message was refused. Codes are stable and never reused. */
export const FAULT_CODES = [
  'malformed_json',
  'not_an_object',
  'too_large',
  'unknown_kind',
  'kind_not_allowed',
  'invalid_field',
  'missing_field',
  'unknown_analyzer',
  'unknown_point',
  'unknown_recommendation',
  'conflict',
  'unreadable_row',
  'malformed_payload',
  'no_birth',
] as const
export type FaultCode = (typeof FAULT_CODES)[number]

/** One thing wrong with one message or one line of the register: where, what came, and the rule it broke. */
export interface Fault {
  readonly code: FaultCode
  /** Path such as `grab.value`; empty where the whole message is meant. */
  readonly field: string
  /** What came, shortened to 80 characters, control characters made visible. */
  readonly value: string
  readonly rule: string
}

const SHOWN_LENGTH = 80
const SHOWN_DEPTH = 100

/** A value as it may be shown in an error: JSON with control characters escaped, shortened. */
export function showValue(value: unknown): string {
  if (value === undefined) return 'nothing'
  // Writing it down could need more stack than there is, and how much there is differs between machines.
  if (isNestedBeyond(value, SHOWN_DEPTH)) return `a value nested more than ${String(SHOWN_DEPTH)} deep`
  const text =
    typeof value === 'number' ? String(value) : ((JSON.stringify(value) as string | undefined) ?? typeof value)
  // Terminals act on control characters, so they are made visible.
  const visible = text.replace(
    /[\u0000-\u001f\u007f-\u009f\u2028\u2029]/g,
    c => `\\u${c.charCodeAt(0).toString(16).padStart(4, '0')}`,
  )
  return visible.length > SHOWN_LENGTH ? `${visible.slice(0, SHOWN_LENGTH)}…` : visible
}

function isNestedBeyond(value: unknown, depth: number): boolean {
  if (typeof value !== 'object' || value === null) return false
  return depth === 0 || Object.values(value).some(inner => isNestedBeyond(inner, depth - 1))
}

/** "grab.value: "abc" is refused: must be a number". */
export function sayFault(fault: Fault): string {
  const where = fault.field === '' ? 'message' : fault.field
  return `${where}: ${fault.value} is refused: ${fault.rule}`
}
