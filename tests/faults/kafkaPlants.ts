import { readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { gunzipSync } from 'node:zlib'
import { parse } from 'yaml'
import { checkRegister } from '../../src/model/checkRegister.js'
import type { RegisterFile } from '../../src/model/register.js'
import { SAMPLES } from './built.js'
import { unbrokenEvents } from './expected.js'

/** A plant with its messages in order of arrival and the events of an unbroken run over them. */
export interface TestPlant {
  readonly name: string
  readonly registerPath: string
  readonly lines: readonly string[]
  /** Comparable content by id. */
  readonly expected: ReadonlyMap<string, string>
}

/** The sample plant itself, up to a time. */
export function samplePlant(folder: string, before: string): TestPlant {
  return makePlant(folder, sampleRegister(), sampleLines().slice(0, firstAt(before)))
}

/**
 * Plants unlike each other, of two points and `days` days each: the sample's register under another name, cut to those
 * points, and their messages from another day on.
 */
export function derivedPlants(folder: string, count: number, days: number): readonly TestPlant[] {
  return Array.from({ length: count }, (_, index) => {
    const register = cutRegister(sampleRegister(), `weir-${String(index + 1).padStart(2, '0')}`, index)
    const from = firstAt(day(index % 8))
    const until = firstAt(day((index % 8) + days))
    const concerns = new Set(
      Object.entries(register.points).flatMap(([point, { analyzers }]) => [point, ...Object.keys(analyzers)]),
    )
    const own = sampleLines()
      .slice(from, until)
      .filter(line => concerns.has(concern(line)))
    return makePlant(folder, register, own)
  })
}

/** All messages with their plant, each plant's in order, those of all plants spread evenly over the whole. */
export function interleaved(plants: readonly TestPlant[]): readonly { readonly key: string; readonly value: string }[] {
  return plants
    .flatMap(({ name, lines }) => lines.map((value, index) => ({ key: name, value, place: index / lines.length })))
    .sort((a, b) => a.place - b.place)
    .map(({ key, value }) => ({ key, value }))
}

type RawRegister = Omit<RegisterFile, 'plant'> & { plant: string }

const REGISTER = join(SAMPLES, 'register.yaml')
let lines: readonly string[] | undefined

function sampleRegister(): RawRegister {
  return parse(readFileSync(REGISTER, 'utf8')) as RawRegister
}

function sampleLines(): readonly string[] {
  lines ??= gunzipSync(readFileSync(join(SAMPLES, 'stream.ndjson.gz')))
    .toString()
    .split('\n')
    .filter(line => line !== '')
  return lines
}

function cutRegister(register: RawRegister, plant: string, index: number): RawRegister {
  const all = Object.keys(register.points)
  const kept = [all[index % all.length]!, all[(index * 3 + 1) % all.length]!]
  const points = Object.fromEntries(Object.entries(register.points).filter(([point]) => kept.includes(point)))
  const analyzers = new Set(Object.values(points).flatMap(point => Object.keys(point.analyzers)))
  const standards = (register.standards ?? []).filter(
    ({ analyzer }) => analyzer === undefined || analyzers.has(analyzer),
  )
  return { ...register, plant, points, standards, related: [] }
}

function makePlant(folder: string, raw: RawRegister, own: readonly string[]): TestPlant {
  const checked = checkRegister(raw)
  if (!checked.ok) throw new Error(JSON.stringify(checked.faults))
  const registerPath = join(folder, `${raw.plant}.yaml`)
  writeFileSync(registerPath, JSON.stringify(raw))
  const stream = join(folder, `${raw.plant}.ndjson`)
  writeFileSync(stream, own.map(line => `${line}\n`).join(''))
  return { name: raw.plant, registerPath, lines: own, expected: unbrokenEvents(stream, checked.file) }
}

function day(number: number): string {
  return `2026-04-${String(number + 1).padStart(2, '0')}T00:00:00Z`
}

/** Readings stand in the order of arrival, within two minutes of their own time. */
function firstAt(time: string): number {
  const index = sampleLines().findIndex(
    line => line.includes('"kind":"reading"') && /"time":"([^"]+)"/.exec(line)![1]! >= time,
  )
  return index < 0 ? sampleLines().length : index
}

function concern(line: string): string {
  return /"(?:analyzer|point)":"([^"]+)"/.exec(line)?.[1] ?? ''
}
