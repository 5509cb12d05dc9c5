import { readFileSync } from 'node:fs'
import { expect } from 'vitest'
import { parse as parseYaml, stringify as toYaml } from 'yaml'
import type { CloudEvent } from '../../../src/model/cloudEvent.js'
import { resolvePlant } from '../../../src/model/plant.js'
import type { RegisterFile } from '../../../src/model/register.js'
import { MINUTE_MS } from '../../../src/model/time.js'
import { run, type scratch } from '../../cli/support.js'
import { siteRecord, type SiteRecord } from './record.js'
import { type Asked, askedOf, type FoundSpan, type SiteOf, spansOf, verdictsOf, watchesOf } from './said.js'
import { countSpikes, type SpikeCount } from './spikes.js'
import { DATA, exchangeRecords, labelRuns, type LabelRun } from './truth.js'

export interface Replayed {
  readonly set: string
  readonly records: readonly SiteRecord[]
  /** Of the stations with a reading each quarter-hour. */
  readonly spikes: readonly SpikeCount[]
  readonly runs: readonly LabelRun[]
  readonly found: readonly FoundSpan[]
  readonly asked: readonly Asked[]
  readonly verdicts: ReadonlyMap<string, number>
  /** What the command said at its end: taken, refused, left out. */
  readonly counts: readonly string[]
}

/**
 * Replays the readings of a set with its register as anybody would: `turbidrift replay --register … --csv …`. The
 * publisher's labels are left out by the column map, but for exchanges of instruments, which are work records.
 * @param sites stations of one time; the register is cut down to them  @param files their readings
 */
export async function replaySet(
  set: string,
  sites: readonly string[],
  { put, path }: ReturnType<typeof scratch>,
  files = sites.map(site => `${DATA}${set}/${site}.readings.csv.gz`),
): Promise<Replayed> {
  const runs = labelRuns(set).filter(one => sites.includes(one.site))
  const exchanges = runs.some(one => one.kind === 'exchange')
  const register = registerOf(set, sites)
  const out = path('events.ndjson')
  const ran = await run([
    ...['replay', '--register', put('register.yaml', toYaml(register)), '--map', `${DATA}map.yaml`],
    ...['--csv', ...files],
    ...(exchanges ? ['--work', put('work.csv', exchangeRecords(runs))] : []),
    ...['--out', out],
  ])
  expect(ran.code).toBe(0)
  const lines = readFileSync(out, 'utf8').trimEnd().split('\n')
  const events = lines.map(parse)
  const siteOf = sitesOf(register)
  const toMs = Date.parse(events.at(-1)!.time)
  const records = sites.map(site => siteRecord(set, site))
  const { analyzers } = resolvePlant(register)
  return {
    set,
    records,
    spikes: records
      .filter(({ site, intervalMs }) => intervalMs === 15 * MINUTE_MS && runs.some(one => one.site === site))
      .map(record => countSpikes(record, runs, analyzers.get(record.site)!)),
    runs,
    found: [...spansOf(events, siteOf, toMs), ...watchesOf(events, siteOf, toMs)],
    asked: askedOf(events, siteOf, toMs),
    verdicts: verdictsOf(events),
    counts: ran.told.split('\n').filter(line => /taken|refused:|left out:|empty cells/.test(line)),
  }
}

/** Stretches and stations that were replayed one by one, as one set. */
export function together(parts: readonly Replayed[]): Replayed {
  const verdicts = new Map<string, number>()
  for (const part of parts)
    for (const [verdict, times] of part.verdicts) verdicts.set(verdict, (verdicts.get(verdict) ?? 0) + times)
  const last = new Map(parts.map(part => [part.records[0]!.site, part]))
  return {
    set: parts[0]!.set,
    records: [...last.values()].flatMap(part => part.records),
    spikes: [...last.values()].flatMap(part => part.spikes),
    runs: [...last.values()].flatMap(part => part.runs),
    found: parts.flatMap(part => part.found),
    asked: parts.flatMap(part => part.asked),
    verdicts,
    counts: parts.flatMap(({ counts, records }) => counts.map(line => `${records[0]!.site}: ${line}`)),
  }
}

function parse(line: string): CloudEvent {
  return JSON.parse(line) as CloudEvent
}

function registerOf(set: string, sites: readonly string[]): RegisterFile {
  const register = parseYaml(readFileSync(`${DATA}${set}/register.yaml`, 'utf8')) as RegisterFile
  const points = Object.entries(register.points).filter(([, { analyzers }]) =>
    Object.keys(analyzers).some(id => sites.includes(id)),
  )
  return { ...register, points: Object.fromEntries(points) }
}

/** Sites are analyzers, each alone at its point: what is said of the point is said of the site. */
function sitesOf({ points }: RegisterFile): SiteOf {
  const alone = new Map(Object.entries(points).map(([point, { analyzers }]) => [point, Object.keys(analyzers)[0]!]))
  return subject => alone.get(subject.replace(/^point:/, '')) ?? subject
}
