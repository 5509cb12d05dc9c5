import type { RecommendationData } from '../../model/events.js'
import type { StandardType, WorkAction } from '../../model/messages.js'
import { roundSignificant } from '../../model/rounding.js'
import { toWholeUnit, type Unit } from '../../model/units.js'
import type { Action } from '../../model/vocabulary.js'

/** A CSV file to fill in and put into the drop folder: cells known beforehand are written, the others stay empty. */
export interface HandBack {
  readonly header: string
  readonly lines: readonly string[]
}

const WORK_COLUMNS = [
  ...['analyzer', 'time', 'action', 'visit', 'asFound', 'asFoundClean', 'asLeft', 'besideBefore', 'besideAfter'],
  ...['displayed', 'reference.type', 'reference.id', 'reference.lot', 'reference.expires', 'reference.assigned'],
  ...['accepted', 'by', 'note'],
] as const
const GRAB_COLUMNS = ['point', 'sampled', 'value', 'unit', 'sampleId', 'laboratoryInstrument'] as const

/** A record of work a visit gives, and on what reference it is done. */
interface WorkLine {
  readonly action: WorkAction
  readonly reference?: StandardType
}

const WORK_LINES: Readonly<Record<Exclude<Action, 'take_grab' | 'check_laboratory'>, readonly WorkLine[]>> = {
  zero: [{ action: 'cleaned' }, { action: 'zero', reference: 'zero_water' }],
  zero_and_span: [
    { action: 'cleaned' },
    { action: 'zero', reference: 'zero_water' },
    { action: 'span', reference: 'secondary_standard' },
  ],
  span: [{ action: 'cleaned' }, { action: 'span', reference: 'secondary_standard' }],
  clean_then_verify: [{ action: 'cleaned' }],
  inspect: [{ action: 'cleaned' }, { action: 'verified', reference: 'secondary_standard' }],
  verify: [{ action: 'verified', reference: 'secondary_standard' }],
  calibrate_primary: [
    { action: 'cleaned' },
    { action: 'zero', reference: 'zero_water' },
    { action: 'calibrated_primary', reference: 'primary_standard' },
    { action: 'standard_assigned', reference: 'secondary_standard' },
  ],
  check_signal: [{ action: 'verified' }],
  check_sample_line: [{ action: 'line_flushed' }],
}

/** The file a request's work is handed in with; undefined for a check in the laboratory, which is no work record. */
export function handBackOf(
  { action, procedure, recommendation, analyzer, point }: RecommendationData,
  unit: Unit,
): HandBack | undefined {
  if (action === 'check_laboratory') return undefined
  if (action === 'take_grab' || analyzer === undefined) {
    const line = GRAB_COLUMNS.map(column => (column === 'point' ? (point ?? '') : column === 'unit' ? unit : ''))
    return { header: GRAB_COLUMNS.join(','), lines: [line.join(','), line.join(',')] }
  }
  const lines = [{ action: 'maintenance_on' as const }, ...WORK_LINES[action], { action: 'maintenance_off' as const }]
  return {
    header: WORK_COLUMNS.join(','),
    lines: lines.map(line => workLine(line, { analyzer, visit: recommendation, procedure, unit })),
  }
}

interface Visit {
  readonly analyzer: string
  readonly visit: string
  readonly procedure: RecommendationData['procedure']
  readonly unit: Unit
}

function workLine(line: WorkLine, { analyzer, visit, procedure, unit }: Visit): string {
  const type = line.reference === 'zero_water' ? (procedure.zeroMethod ?? 'zero_water') : line.reference
  const known = procedure.bring?.find(one => one.type === type)
  const cells: Partial<Record<(typeof WORK_COLUMNS)[number], string>> = {
    analyzer,
    action: line.action,
    visit,
    'reference.type': type ?? '',
    'reference.id': known?.id ?? '',
    'reference.lot': known?.lot ?? '',
    'reference.expires': known?.expires ?? '',
    // The value a standard is assigned is what the visit finds, never what it had before.
    'reference.assigned':
      known === undefined || line.action === 'standard_assigned' ? '' : inUnit(known.assignedNtu, unit),
  }
  return WORK_COLUMNS.map(column => quoted(cells[column] ?? '')).join(',')
}

/** Records are in the unit of the analyzer. */
function inUnit(ntu: number, unit: Unit): string {
  return String(roundSignificant(ntu / toWholeUnit(1, unit), 6))
}

function quoted(cell: string): string {
  return /[",]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell
}
