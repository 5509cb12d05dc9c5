import { readdirSync, readFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { DAY_MS } from '../../../src/model/time.js'
import { classOf, type LabelClass } from './labels.js'

export const DATA = fileURLToPath(new URL('../data/', import.meta.url))

/** An unbroken run of one published label. */
export interface LabelRun {
  readonly site: string
  readonly kind: LabelClass
  readonly label: string
  readonly fromMs: number
  readonly toMs: number
  readonly readings: number
}

/** Runs of one class at one site, none more than a day from the next. */
export interface Episode {
  readonly site: string
  readonly kind: LabelClass
  readonly fromMs: number
  readonly toMs: number
  readonly readings: number
  readonly runs: number
}

/** @returns none for a set whose publishers labelled nothing */
export function labelRuns(set: string): LabelRun[] {
  const files = readdirSync(`${DATA}${set}`).filter(name => name.endsWith('.truth.csv'))
  return files.sort().flatMap(file => {
    const [header = '', ...rows] = readFileSync(`${DATA}${set}/${file}`, 'utf8').trimEnd().split('\n')
    const column = Object.fromEntries(header.split(',').map((name, i) => [name, i]))
    return rows.map((row): LabelRun => {
      const cells = row.split(',')
      const cell = (name: string): string => cells[column[name] ?? -1] ?? ''
      const label = cell('label')
      return {
        site: cell('site'),
        kind: classOf(set, label),
        label,
        fromMs: Date.parse(cell('start')),
        toMs: Date.parse(cell('end')),
        readings: Number(cell('readings')),
      }
    })
  })
}

export function episodesOf(runs: readonly LabelRun[]): Episode[] {
  const episodes: Episode[] = []
  const last = new Map<string, Episode>()
  for (const { site, kind, fromMs, toMs, readings } of [...runs].sort((a, b) => a.fromMs - b.fromMs)) {
    const key = `${site} ${kind}`
    const before = last.get(key)
    if (before !== undefined && fromMs - before.toMs < DAY_MS) {
      const joined = {
        ...before,
        toMs: Math.max(before.toMs, toMs),
        readings: before.readings + readings,
        runs: before.runs + 1,
      }
      episodes[episodes.indexOf(before)] = joined
      last.set(key, joined)
    } else {
      const begun = { site, kind, fromMs, toMs, readings, runs: 1 }
      episodes.push(begun)
      last.set(key, begun)
    }
  }
  return episodes
}

/**
 * The first reading of a new deployment (label CND): a cleaned and calibrated instrument has taken the place of the old
 * one, which is a work record `replaced`. It is written for the time of that reading.
 */
export function exchangeRecords(runs: readonly LabelRun[]): string {
  const rows = runs
    .filter(run => run.kind === 'exchange')
    .sort((a, b) => a.fromMs - b.fromMs)
    .map(run => `${new Date(run.fromMs).toISOString()},${run.site},replaced`)
  return ['time,analyzer,action', ...rows, ''].join('\n')
}
