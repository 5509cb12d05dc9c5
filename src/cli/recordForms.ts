import { DECISIONS, STANDARD_TYPES, WORK_ACTIONS } from '../model/messages.js'

export const FORM_NAMES = ['grab', 'work', 'response'] as const
export type Form = (typeof FORM_NAMES)[number]

/** One field of a record as it is asked for, and as a flag. */
export interface Asked {
  readonly field: string
  readonly question: string
  readonly as: 'text' | 'time' | 'number' | 'result' | 'yesNo'
  readonly needed?: true
}

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
    { field: 'accepted', question: 'accepted, yes or no', as: 'yesNo' },
    { field: 'id', question: 'number of the record', as: 'text' },
    { field: 'corrects', question: 'number of the record this corrects', as: 'text' },
    { field: 'by', question: 'who', as: 'text' },
    { field: 'note', question: 'note', as: 'text' },
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
