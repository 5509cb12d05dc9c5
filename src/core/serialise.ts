import { checkRegister } from '../model/checkRegister.js'
import { resolvePlant } from '../model/plant.js'
import type { RegisterFile } from '../model/register.js'
import type { PlantState } from './plantState.js'
import type { PointState } from './pointState.js'

/** Version of the stored form. A later form brings a migration from this one and a fixture of it. */
const VERSION = 1

/**
 * Canonical text of a state, in rows that can be stored apart: one for the plant, two for each point (its fold and
 * logs; its blocks). The same state gives the same text whatever way led to it: maps are sorted by key.
 */
export function serialisePlant(state: PlantState): Map<string, string> {
  const rows = new Map<string, string>()
  const { points, register, ...plant } = state
  rows.set(
    'plant',
    encode({
      ...plant,
      version: VERSION,
      register: register === null ? null : { hash: register.hash, file: register.file },
    }),
  )
  for (const [id, point] of points) {
    const { analyzers, ...rest } = point
    rows.set(`point ${id}`, encode({ ...rest, analyzers: analyzers.map(({ log: _log, ...analyzer }) => analyzer) }))
    rows.set(`blocks ${id}`, encode(analyzers.map(analyzer => analyzer.log)))
  }
  return rows
}

/** @throws Error where a row is missing or of another version: the store is broken, not the input */
export function restorePlant(rows: ReadonlyMap<string, string>): PlantState {
  const { register, version, ...plant } = decode(need(rows, 'plant')) as Omit<PlantState, 'points' | 'register'> & {
    register: { hash: string; file: RegisterFile } | null
  }
  if ((version as number) !== VERSION)
    throw new Error(`state of version ${String(version)} cannot be read; this software knows ${String(VERSION)}`)
  const points = new Map<string, PointState>()
  for (const key of [...rows.keys()].sort()) {
    if (!key.startsWith('point ')) continue
    const id = key.slice('point '.length)
    const point = decode(need(rows, key)) as PointState
    const logs = decode(need(rows, `blocks ${id}`)) as PointState['analyzers'][number]['log'][]
    points.set(id, {
      ...point,
      analyzers: point.analyzers.map((analyzer, i) => ({ ...analyzer, log: logs[i] })) as PointState['analyzers'],
    })
  }
  return { ...plant, version, points, register: register === null ? null : restoreRegister(register) }
}

function restoreRegister({ hash, file }: { hash: string; file: RegisterFile }): PlantState['register'] {
  const checked = checkRegister(file)
  if (!checked.ok) throw new Error('the stored register no longer passes its check')
  return { hash, file: checked.file, plant: resolvePlant(checked.file) }
}

function need(rows: ReadonlyMap<string, string>, key: string): string {
  const row = rows.get(key)
  if (row === undefined) throw new Error(`the stored state has no row "${key}"`)
  return row
}

const ARRAYS = { u32: Uint32Array, f32: Float32Array, u8: Uint8Array } as const

/** Keys that begin with a dollar sign are the packing's own; one that came from outside gets another in front. */
function encode(value: unknown): string {
  return JSON.stringify(value, (_key, member: unknown) => {
    if (typeof member !== 'object' || member === null) return member
    if (Array.isArray(member)) return packRows(member)
    if (member instanceof Map) return { $map: byKey([...(member as Map<string | number, unknown>)]) }
    for (const [name, type] of Object.entries(ARRAYS)) {
      if (member instanceof type) {
        return { [`$${name}`]: Buffer.from(member.buffer, member.byteOffset, member.byteLength).toString('base64') }
      }
    }
    return Object.fromEntries(
      byKey(Object.entries(member)).map(([key, inner]) => [key.startsWith('$') ? `$${key}` : key, inner]),
    )
  })
}

/** An array of objects with the same keys says them once. */
function packRows(rows: readonly unknown[]): unknown {
  const [first] = rows
  if (rows.length < 2 || !isPlain(first)) return rows
  const keys = Object.keys(first).sort()
  const shape = keys.join()
  if (!rows.every(row => isPlain(row) && Object.keys(row).sort().join() === shape)) return rows
  return { $rows: [keys, ...rows.map(row => keys.map(key => (row as Record<string, unknown>)[key]))] }
}

function isPlain(value: unknown): value is Record<string, unknown> {
  return typeof value === 'object' && value !== null && Object.getPrototypeOf(value) === Object.prototype
}

function byKey<K extends string | number, V>(entries: [K, V][]): [K, V][] {
  return entries.sort(([a], [b]) => (a < b ? -1 : 1))
}

function decode(text: string): unknown {
  return JSON.parse(text, (_key, member: unknown) => {
    if (typeof member !== 'object' || member === null || Array.isArray(member)) return member
    const entries = Object.entries(member)
    const [only] = entries
    if (entries.length === 1 && only !== undefined) {
      const [key, packed] = only as [string, unknown]
      if (key === '$map') return new Map(packed as [string, unknown][])
      if (key === '$rows') return unpackRows(packed as [string[], ...unknown[][]])
      for (const [name, type] of Object.entries(ARRAYS)) {
        if (key === `$${name}`) return new type(Uint8Array.from(Buffer.from(packed as string, 'base64')).buffer)
      }
    }
    return entries.some(([key]) => key.startsWith('$$'))
      ? Object.fromEntries(entries.map(([key, inner]) => [key.startsWith('$$') ? key.slice(1) : key, inner as unknown]))
      : member
  })
}

function unpackRows([keys, ...rows]: readonly [readonly string[], ...(readonly unknown[])[]]): unknown[] {
  return rows.map(row => Object.fromEntries(keys.map((key, i) => [key, row[i]])))
}
