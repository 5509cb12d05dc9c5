import type { StandardType, Work, WorkAction } from '../model/messages.js'
import type { Analyzer, Plant, RegisteredStandard } from '../model/plant.js'
import { formatInstant, parseInstant } from '../model/time.js'
import { toWholeUnit } from '../model/units.js'

/** What work has said of an analyzer's standards, apart from the register. Plain data. */
export interface StandardsKnown {
  /** Values assigned by work on this analyzer, oldest first: the history stays beside the value in force. */
  assignments: Assignment[]
  /** Last work after which a value assigned before it holds no more. */
  outdated: { readonly atMs: number; readonly action: WorkAction } | null
}

export interface Assignment {
  readonly id: string
  readonly type: StandardType
  readonly assignedNtu: number
  readonly atMs: number
  readonly lot: string | null
  readonly expires: string | null
}

/** A standard as it counts now: its register entry with the newest assignment over it. */
export interface StandardInForce {
  readonly id: string
  readonly type: StandardType
  /** The analyzer it is bound to; undefined where it serves all of them. */
  readonly analyzer: string | undefined
  readonly assignedNtu: number
  /** Undefined where nobody stated when it was assigned. */
  readonly assignedMs: number | undefined
  readonly assignedBy: 'register' | 'work'
  readonly expires: string | undefined
  readonly lot: string | undefined
  readonly standardUncertaintyNtu: number | undefined
  /** The work since its assignment that makes it void. */
  readonly outdatedBy: StandardsKnown['outdated']
}

const KEPT_ASSIGNMENTS = 12
/** A value assigned before any of these was read on another response than the present one (common practice, no source). */
const OUTDATING: readonly WorkAction[] = ['calibrated_primary', 'light_source_replaced', 'replaced']

export function newStandardsKnown(): StandardsKnown {
  return { assignments: [], outdated: null }
}

/** Takes accepted work: an assignment is remembered, a primary calibration makes those before it void. */
export function takeStandards(known: StandardsKnown, work: Work, analyzer: Analyzer): void {
  if (OUTDATING.includes(work.action)) known.outdated = { atMs: work.atMs, action: work.action }
  const { reference } = work
  if (work.action !== 'standard_assigned' || reference?.id === undefined) return
  known.assignments = [
    ...known.assignments,
    {
      id: reference.id,
      type: reference.type,
      assignedNtu: toWholeUnit(reference.assigned, analyzer.unit),
      atMs: work.atMs,
      lot: reference.lot ?? null,
      expires: reference.expires ?? null,
    },
  ].slice(-KEPT_ASSIGNMENTS)
}

/** The standard of that id as it counts for an analyzer; undefined where neither the register nor work knows it. */
export function standardInForce(
  id: string,
  analyzer: string,
  plant: Plant,
  known: StandardsKnown,
): StandardInForce | undefined {
  const registered = plant.standards.find(one => one.id === id)
  const newest = known.assignments.findLast(one => one.id === id)
  const registeredMs = assignedMs(registered)
  if (newest !== undefined && newest.atMs > (registeredMs ?? 0)) {
    return {
      id,
      type: newest.type,
      analyzer,
      assignedNtu: newest.assignedNtu,
      assignedMs: newest.atMs,
      assignedBy: 'work',
      expires: newest.expires ?? registered?.expires,
      lot: newest.lot ?? registered?.lot,
      standardUncertaintyNtu: registered?.standardUncertaintyNtu,
      outdatedBy: outdatedSince(newest.atMs, known),
    }
  }
  if (registered === undefined) return undefined
  const { type, assignedNtu, expires, lot, standardUncertaintyNtu } = registered
  return {
    id,
    type,
    analyzer: registered.analyzer,
    assignedNtu,
    assignedMs: registeredMs,
    assignedBy: 'register',
    expires,
    lot,
    standardUncertaintyNtu,
    outdatedBy: type === 'secondary_standard' ? outdatedSince(registeredMs ?? 0, known) : null,
  }
}

/** The secondary standard bound to an analyzer, as it counts now: the one assigned last where there are several. */
export function ownSecondary(analyzer: string, plant: Plant, known: StandardsKnown): StandardInForce | undefined {
  const ids = new Set(
    [
      ...plant.standards.filter(one => one.type === 'secondary_standard' && one.analyzer === analyzer),
      ...known.assignments.filter(one => one.type === 'secondary_standard'),
    ].map(one => one.id),
  )
  let own: StandardInForce | undefined
  for (const id of ids) {
    const one = standardInForce(id, analyzer, plant, known)
    if (one !== undefined && (own === undefined || (one.assignedMs ?? 0) > (own.assignedMs ?? 0))) own = one
  }
  return own
}

/** The plant as its standards count for one analyzer now: what work assigned stands over what the register says. */
export function withStandardsInForce(plant: Plant, analyzer: string, known: StandardsKnown): Plant {
  if (known.assignments.length === 0) return plant
  const assigned = new Map(known.assignments.map(one => [one.id, standardInForce(one.id, analyzer, plant, known)]))
  const fresh = [...assigned.values()].flatMap(one => {
    if (one?.assignedBy !== 'work') return []
    const { assignedMs: atMs, assignedBy: _by, outdatedBy: _outdated, ...standard } = one
    return [{ ...standard, assignedOn: atMs === undefined ? undefined : formatInstant(atMs).slice(0, 10) }]
  })
  const others = plant.standards.filter(one => fresh.every(own => own.id !== one.id))
  return { ...plant, standards: [...fresh, ...others] }
}

/** What stands on the label of a standard. */
export interface StandardLabel {
  readonly id: string
  readonly assignedNtu: number
  readonly lot?: string
  readonly expires?: string
}

export function labelOf({
  id,
  assignedNtu,
  lot,
  expires,
}: Pick<RegisteredStandard, 'id' | 'assignedNtu' | 'lot' | 'expires'>): StandardLabel {
  return {
    id,
    assignedNtu,
    ...(lot === undefined ? {} : { lot }),
    ...(expires === undefined ? {} : { expires }),
  }
}

/** Whether a standard is past its date at an instant: it is good on its last day. */
export function isExpired(expires: string | undefined, atMs: number): boolean {
  return expires !== undefined && formatInstant(atMs).slice(0, 10) > expires
}

/** A day in the register says no hour: an assignment on the day of a calibration is taken as made after it. */
function assignedMs(registered: RegisteredStandard | undefined): number | undefined {
  return registered?.assignedOn === undefined ? undefined : parseInstant(`${registered.assignedOn}T23:59:59Z`)
}

function outdatedSince(sinceMs: number, { outdated }: StandardsKnown): StandardsKnown['outdated'] {
  return outdated !== null && outdated.atMs > sinceMs ? outdated : null
}
