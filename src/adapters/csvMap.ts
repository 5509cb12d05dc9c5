import { z } from 'zod'
import { type Fault, showValue } from '../model/faults.js'
import { nameSchema } from '../model/names.js'
import { UNITS } from '../model/units.js'
import { DATE_ORDERS } from './wallClock.js'

export const CSV_KINDS = ['reading', 'grab', 'work', 'standard', 'process'] as const
export type CsvKind = (typeof CSV_KINDS)[number]

/** How a CSV file is to be read; whatever is left out is inferred from the header. Keys are strict. */
export const csvMapSchema = z.strictObject({
  kind: z
    .enum(CSV_KINDS)
    .optional()
    .describe('what a row is; wide files hold readings; a standard is the value assigned to one on its analyzer'),
  delimiter: z.enum([',', ';', '\t']).optional().describe('default: the one that cuts the header into most columns'),
  decimal: z
    .enum(['.', ','])
    .optional()
    .describe('default: comma where the delimiter is not a comma and the cell has one, else point'),
  time: z.enum(['text', 'epochS', 'epochMs']).optional().describe('how time is written; default text'),
  dateOrder: z.enum(DATE_ORDERS).optional().describe('order of day and month in 05/09/2026; no default'),
  timeZone: z.string().optional().describe('zone of times without offset; default: that of the register'),
  columns: z
    .record(z.string(), z.string().min(1).max(200))
    .optional()
    .describe('message field: header of its column, such as sampled: Entnahme'),
  analyzers: z
    .record(z.string(), nameSchema)
    .optional()
    .describe('wide files: header of a column: the analyzer whose values stand there'),
  constants: z.record(z.string(), z.union([z.string(), z.number(), z.boolean()])).optional(),
  unit: z.enum(UNITS).optional().describe('unit where the file gives none; default: that of the register'),
  qualities: z
    .record(z.string(), z.enum(['good', 'uncertain', 'bad']))
    .optional()
    .describe('quality text or code: what it means'),
})
export type CsvMap = z.infer<typeof csvMapSchema>

export type CheckedCsvMap =
  { readonly ok: true; readonly map: CsvMap } | { readonly ok: false; readonly faults: readonly Fault[] }

/** Checks a parsed map file, every mistake at once. */
export function checkCsvMap(value: unknown): CheckedCsvMap {
  const parsed = csvMapSchema.safeParse(value)
  if (parsed.success) return { ok: true, map: parsed.data }
  return {
    ok: false,
    faults: parsed.error.issues.flatMap(issue => {
      const path = issue.path.map(String)
      return issue.code === 'unrecognized_keys'
        ? issue.keys.map(key => fault([...path, key].join('.'), 'a key', 'is not a key of the map here'))
        : [fault(path.join('.'), showValue(valueAt(value, issue.path)), issue.message)]
    }),
  }
}

function fault(field: string, value: string, rule: string): Fault {
  return { code: 'invalid_field', field: field === '' ? 'map' : field, value, rule }
}

function valueAt(value: unknown, path: readonly PropertyKey[]): unknown {
  let current = value
  for (const key of path) {
    if (typeof current !== 'object' || current === null || !Object.hasOwn(current, key)) return undefined
    current = (current as Record<PropertyKey, unknown>)[key]
  }
  return current
}
