import { type Kind, SCHEMA_BY_KIND } from '../model/messages.js'
import type { CsvKind } from './csvMap.js'

/** Fields a row of each kind has to have. */
export const NEEDED: Readonly<Record<CsvKind, readonly string[]>> = {
  reading: ['analyzer', 'time', 'value'],
  grab: ['point', 'sampled', 'value'],
  work: ['analyzer', 'time', 'action'],
  standard: ['analyzer', 'time', 'reference.id', 'reference.assigned'],
  process: ['point', 'time', 'state'],
}

export const REFERENCE_FIELDS = ['type', 'id', 'lot', 'expires', 'assigned', 'standardUncertainty'].map(
  key => `reference.${key}`,
)

/** Usual headers, without case, spaces and punctuation. */
const ALIASES: ReadonlyMap<string, string> = new Map([
  ['timestamp', 'time'],
  ['datetime', 'time'],
  ['date', 'time'],
  ['analyser', 'analyzer'],
  ['instrument', 'analyzer'],
  ['tag', 'analyzer'],
  ['tagname', 'analyzer'],
  ['turbidity', 'value'],
  ['result', 'value'],
  ['units', 'unit'],
  ['status', 'quality'],
  ['sampledat', 'sampled'],
  ['sampletime', 'sampled'],
  ['timeofsampling', 'sampled'],
  ['sample', 'sampleId'],
  ['samplenumber', 'sampleId'],
  ['samplepoint', 'point'],
  ['samplingpoint', 'point'],
  ['location', 'point'],
  ['analysedat', 'analysed'],
  ['analyzed', 'analysed'],
  ['reportedat', 'reported'],
  ['standard', 'reference.id'],
  ['standardid', 'reference.id'],
  ['type', 'reference.type'],
  ['standardtype', 'reference.type'],
  ['assigned', 'reference.assigned'],
  ['assignedvalue', 'reference.assigned'],
  ['assignedon', 'time'],
  ['assignedat', 'time'],
  ['lot', 'reference.lot'],
  ['expires', 'reference.expires'],
  ['expiry', 'reference.expires'],
])

/** Message field by header, without case, spaces and punctuation. */
export const FIELDS: ReadonlyMap<string, string> = new Map([
  ...[
    ...new Set(
      (['reading', 'grab', 'work', 'process'] as const).flatMap(kind => Object.keys(SCHEMA_BY_KIND[kind].shape)),
    ),
  ].map(field => [plain(field), field] as const),
  ...REFERENCE_FIELDS.map(field => [plain(field), field] as const),
  ...ALIASES,
])

/** A header, or a name of one, as it is looked up. */
export function plain(header: string): string {
  return header.toLowerCase().replace(/[^a-z0-9]/g, '')
}

/** What a row becomes: the value of a standard, assigned, is work on its analyzer. */
export function messageKindOf(kind: CsvKind): Exclude<Kind, 'register' | 'tick'> {
  return kind === 'standard' ? 'work' : kind
}

/** A field of a header in a file of a kind: a grab's only time is that of sampling, a standard's uncertainty its own. */
export function fieldIn(kind: CsvKind, field: string): string {
  if (kind === 'grab' && field === 'time') return 'sampled'
  return kind === 'standard' && field === 'standardUncertainty' ? 'reference.standardUncertainty' : field
}
