import { canonicalJson } from '../model/canonicalJson.js'
import { checkRegister } from '../model/checkRegister.js'
import type { Fault } from '../model/faults.js'
import { contentHash } from '../model/identity.js'
import type { RegisterMessage } from '../model/messages.js'
import { resolvePlant } from '../model/plant.js'
import type { RegisterFile } from '../model/register.js'
import type { PlantState } from './plantState.js'
import { newAnalyzerState, newPointFold, newPointState, type PointFold } from './pointState.js'

/** The register as a recorded input. @param before the register in force, to say which fields changed */
export function registerMessage(file: RegisterFile, before?: RegisterFile): RegisterMessage {
  const changed = before === undefined ? [] : changedPaths(before, file, '')
  return { kind: 'register', hash: contentHash(canonicalJson(file)), changed, body: file }
}

/** Takes a register: new points begin empty, points whose units changed begin anew, the rest goes on. */
export function takeRegister(state: PlantState, message: RegisterMessage): readonly Fault[] {
  const checked = checkRegister(message.body)
  if (!checked.ok) return checked.faults
  if (checked.file.plant !== state.id) {
    return [
      {
        code: 'invalid_field',
        field: 'register.body.plant',
        value: checked.file.plant,
        rule: `must be ${state.id}, the plant of this state`,
      },
    ]
  }
  const plant = resolvePlant(checked.file)
  const before = state.register?.plant
  for (const id of [...state.points.keys()]) if (!plant.points.has(id)) state.points.delete(id)
  for (const point of plant.points.values()) {
    const known = state.points.get(point.id)
    const units = before?.points.get(point.id)?.analyzers
    if (known === undefined || units === undefined) state.points.set(point.id, newPointState(point))
    else if (units.join() !== point.analyzers.join()) {
      const analyzers = point.analyzers.map(id => known.analyzers[units.indexOf(id)] ?? newAnalyzerState())
      const fold = keepDates(newPointFold(point), known.fold, point.analyzers, units)
      // Without one a late fact would begin from nothing again.
      const snapshots = state.workedMs === 0 ? [] : [{ endMs: state.workedMs, fold: canonicalJson(fold) }]
      state.points.set(point.id, {
        ...known,
        analyzers,
        fold,
        pairs: [],
        differences: [],
        days: [],
        slow: [],
        snapshots,
      })
    }
  }
  const ordered = [...state.points.entries()].sort(([a], [b]) => (a < b ? -1 : 1))
  state.points.clear()
  for (const [id, point] of ordered) state.points.set(id, point)
  state.published.nextShiftMs = 0
  state.register = { hash: message.hash, file: checked.file, plant }
  return []
}

/** Dates required by rule go on for the units that stay, whatever begins anew beside them. */
function keepDates(
  fold: PointFold,
  before: PointFold,
  ids: readonly string[],
  idsBefore: readonly string[],
): PointFold {
  const units = fold.units.map((unit, i) => {
    const known = before.units[idsBefore.indexOf(ids[i] ?? '')]
    return known === undefined ? unit : { ...unit, dates: known.dates }
  })
  return { ...fold, units }
}

/** Paths at which two registers differ. */
export function changedPaths(before: unknown, after: unknown, path: string): string[] {
  if (isObject(before) && isObject(after)) {
    const keys = [...new Set([...Object.keys(before), ...Object.keys(after)])].sort()
    return keys.flatMap(key => changedPaths(before[key], after[key], path === '' ? key : `${path}.${key}`))
  }
  return canonicalJson(before ?? null) === canonicalJson(after ?? null) ? [] : [path]
}

function isObject(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}
