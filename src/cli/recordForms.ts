import { DECISIONS, STANDARD_TYPES, WORK_ACTIONS } from '../model/messages.js'

export const FORM_NAMES = ['grab', 'work', 'standard', 'response'] as const
export type Form = (typeof FORM_NAMES)[number]

/** One field of a record as it is asked for, and as a flag. */
export interface Asked {
  readonly field: string
  readonly question: string
  readonly as: 'text' | 'time' | 'number' | 'result' | 'yesNo'
  readonly needed?: true
}

/** What is fixed in a record of a form: the value of a standard, assigned, is work on its analyzer. */
export const BEGIN: Readonly<Record<Form, Readonly<Record<string, unknown>>>> = {
  grab: { kind: 'grab' },
  work: { kind: 'work' },
  standard: { kind: 'work', action: 'standard_assigned', accepted: true },
  response: { kind: 'response' },
}

/** What a record of work ends with, whatever it is about. */
const SIGNED: readonly Asked[] = [
  { field: 'id', question: 'number of the record', as: 'text' },
  { field: 'corrects', question: 'number of the record this corrects', as: 'text' },
  { field: 'by', question: 'who', as: 'text' },
  { field: 'note', question: 'note', as: 'text' },
]

/** What a record by hand is made of. */
export const FORMS: Readonly<Record<Form, readonly Asked[]>> = {
  grab: [
    { field: 'point', question: 'point', as: 'text', needed: true },
    { field: 'sampled', question: 'time of sampling, such as 2026-05-09 10:15', as: 'time', needed: true },
    { field: 'value', question: 'result, such as 0.031 or <0.02', as: 'result', needed: true },
    { field: 'unit', question: 'unit; empty for that of the analyzers', as: 'text' },
    { field: 'sampleId', question: 'number of the sample', as: 'text' },
    { field: 'corrects', question: 'number of the sample this corrects', as: 'text' },
    { field: 'laboratoryInstrument', question: 'laboratory instrument', as: 'text' },
    { field: 'method', question: 'method', as: 'text' },
  ],
  work: [
    { field: 'analyzer', question: 'analyzer', as: 'text', needed: true },
    { field: 'time', question: 'time of the work, such as 2026-05-09 10:15', as: 'time', needed: true },
    { field: 'action', question: `action: ${WORK_ACTIONS.join(', ')}`, as: 'text', needed: true },
    { field: 'asFound', question: 'reading as found, untouched', as: 'number' },
    { field: 'asFoundClean', question: 'reading after cleaning, before any adjustment', as: 'number' },
    { field: 'asLeft', question: 'reading as left', as: 'number' },
    { field: 'reference.type', question: `reference: ${STANDARD_TYPES.join(', ')}`, as: 'text' },
    { field: 'reference.assigned', question: 'value of the reference', as: 'number' },
    { field: 'reference.id', question: 'standard', as: 'text' },
    { field: 'reference.lot', question: 'its lot', as: 'text' },
    { field: 'reference.expires', question: 'its expiry, such as 2027-01-31', as: 'text' },
    { field: 'besideBefore', question: 'second meter in the same water, before', as: 'number' },
    { field: 'besideAfter', question: 'second meter in the same water, after', as: 'number' },
    { field: 'accepted', question: 'accepted, yes or no', as: 'yesNo' },
    ...SIGNED,
  ],
  standard: [
    { field: 'analyzer', question: 'analyzer it was assigned on', as: 'text', needed: true },
    { field: 'time', question: 'time of the assignment, such as 2026-05-09 10:15', as: 'time', needed: true },
    { field: 'reference.id', question: 'standard', as: 'text', needed: true },
    { field: 'reference.assigned', question: 'value assigned, as the analyzer read it', as: 'number', needed: true },
    { field: 'reference.standardUncertainty', question: 'its standard uncertainty', as: 'number' },
    {
      field: 'reference.type',
      question: `type: ${STANDARD_TYPES.join(', ')}; empty for secondary_standard`,
      as: 'text',
    },
    { field: 'reference.lot', question: 'lot', as: 'text' },
    { field: 'reference.expires', question: 'expiry, such as 2027-01-31', as: 'text' },
    ...SIGNED,
  ],
  response: [
    { field: 'recommendation', question: 'id of the request, as status shows it', as: 'text', needed: true },
    { field: 'decision', question: `decision: ${DECISIONS.join(', ')}`, as: 'text', needed: true },
    { field: 'until', question: 'deferred until, such as 2026-05-16 08:00, at most 30 days on', as: 'time' },
    { field: 'reason', question: 'reason; a deferral needs one', as: 'text' },
    { field: 'by', question: 'who', as: 'text' },
    { field: 'time', question: 'time of the decision; empty for now', as: 'time' },
  ],
}

/** What `--help` says of each. */
export const FORM_HELP: Readonly<Record<Form, { readonly description: string; readonly examples: string }>> = {
  grab: {
    description: 'a laboratory result of a grab sample',
    examples: `
Times without an offset are in the register's time zone.

Examples:
  turbidrift record grab --register register.yaml --drop drop
  turbidrift record grab --register register.yaml --drop drop --point CFE --sampled "2026-05-09 10:15" --value "<0.02"`,
  },
  work: {
    description: 'work on an analyzer',
    examples: `
Times without an offset are in the register's time zone; values are in the analyzer's unit.

Example:
  turbidrift record work --register register.yaml --drop drop --analyzer CFE-A --time "2026-05-09 10:15" \\
    --action zero --as-found 0.04 --as-left 0.001 --reference-type zero_water --reference-assigned 0.02 --accepted yes`,
  },
  standard: {
    description: 'the value assigned to a standard on its analyzer, right after a primary calibration',
    examples: `
Times without an offset are in the register's time zone; the value is in the analyzer's unit.

Example:
  turbidrift record standard --register register.yaml --drop drop --analyzer CFE-A --time "2026-05-09 11:30" \\
    --reference-id D-1001 --reference-assigned 34.6 --reference-lot L-7 --reference-expires 2027-01-31`,
  },
  response: {
    description: 'an answer to a request: acknowledged, deferred or rejected',
    examples: `
Times without an offset are in the register's time zone. The answer counts with the block its time lies in. Whether the
request is open is known to the service alone: an answer to another one is refused there, as message.rejected says.

Example:
  turbidrift record response --register register.yaml --drop drop \\
    --recommendation acd342e2-6308-5858-b283-2362581461b4 --decision deferred \\
    --until "2026-05-16 08:00" --reason "crew on leave"`,
  },
}
