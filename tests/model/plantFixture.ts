import { checkRegister } from '../../src/model/checkRegister.js'
import { decodeMessage } from '../../src/model/decode.js'
import type { Grab, Message, ProcessState, Reading, Work } from '../../src/model/messages.js'
import { type Analyzer, type Plant, type Point, resolvePlant } from '../../src/model/plant.js'
import { formatInstant } from '../../src/model/time.js'

/** A part of the invented plant Hollin Weir: one, two and three units at a point, clean and turbid water. */
export const REGISTER = {
  plant: 'hollin-weir',
  name: 'Hollin Weir Water Works',
  timeZone: 'Europe/London',
  classes: { filter: { tolerance: { absoluteNtu: 0.05, relative: 0.1 }, lowIsWorse: true } },
  points: {
    RW: { analyzers: { 'RW-A': { unit: 'NTU' }, 'RW-B': { unit: 'NTU' } } },
    SW: { analyzers: { 'SW-A': { unit: 'FNU' } } },
    FE3: {
      class: 'filter',
      analyzers: { 'FE3-A': { unit: 'NTU', rangeNtu: [0, 10] }, 'FE3-B': { unit: 'NTU', serial: 'A-2207' } },
    },
    CFE: {
      class: 'filter',
      use: ['regulated'],
      actionLevelsNtu: [0.3],
      grab: { perDay: 4 },
      analyzers: { 'CFE-A': { unit: 'NTU' }, 'CFE-B': { unit: 'NTU' }, 'CFE-C': { unit: 'NTU' } },
    },
  },
  standards: [
    { id: 'D-1001', type: 'secondary_standard', analyzer: 'CFE-A', assignedNtu: 34.2, expires: '2026-12-31' },
    { id: 'D-1002', type: 'secondary_standard', analyzer: 'CFE-B', assignedNtu: 36.1 },
    { id: 'D-1003', type: 'secondary_standard', analyzer: 'RW-B', assignedNtu: 35 },
  ],
} as const

export const START_MS = Date.UTC(2026, 2, 2)

/** The plant of a register, which must be without fault. */
export function plantOf(register: unknown = REGISTER): Plant {
  const checked = checkRegister(register)
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults))
  return resolvePlant(checked.file)
}

export function pointOf(id: string, plant: Plant = plantOf()): Point {
  const point = plant.points.get(id)
  if (point === undefined) throw new Error(`no point ${id}`)
  return point
}

/** One analyzer of an invented point; what is not given has the register's default. */
export function analyzerOf(stated: Readonly<Record<string, unknown>> = {}): Analyzer {
  const register = { plant: 'p', points: { FE1: { analyzers: { 'FE1-A': { unit: 'NTU', ...stated } } } } }
  return plantOf(register).analyzers.get('FE1-A')!
}

/** Decodes a message that must be good. */
export function decoded(wire: unknown): Message {
  const result = decodeMessage(wire)
  if (!result.ok) throw new Error(JSON.stringify(result.faults))
  return result.message
}

export function reading(atMs: number, value: number, more: Readonly<Record<string, unknown>> = {}): Reading {
  return { kind: 'reading', analyzer: 'FE1-A', value, unit: 'NTU', atMs, ...more }
}

export function work(atMs: number, action: string, more: Readonly<Record<string, unknown>> = {}): Work {
  return decoded({ kind: 'work', analyzer: 'FE1-A', time: formatInstant(atMs), action, ...more }) as Work
}

export function grab(sampledMs: number, value: number | string, more: Readonly<Record<string, unknown>> = {}): Grab {
  return decoded({ kind: 'grab', point: 'FE1', sampled: formatInstant(sampledMs), value, unit: 'NTU', ...more }) as Grab
}

export function processState(atMs: number, state: ProcessState['state']): ProcessState {
  return { kind: 'process', point: 'FE1', atMs, state }
}
