import { DAY_MS, HOUR_MS } from '../../../src/model/time.js'
import { type ClassResult, type Comparison, foundOf } from './compare.js'

const YEAR_DAYS = 365.25

/** What a person reads: what was taken, what the labels say, what was said, what was asked. */
export function reportText(comparison: Comparison): string {
  const { replayed } = comparison
  return [
    `${replayed.set}: what was said of the record, beside what its publishers say`,
    '',
    ...replayed.records.map(
      ({ site, timesMs, days }) =>
        `${site}: ${String(timesMs.length)} rows, ${day(timesMs[0]!)} to ${day(timesMs.at(-1)!)}, ${(days / YEAR_DAYS).toFixed(2)} years without holes`,
    ),
    ...replayed.counts,
    ...[...replayed.verdicts]
      .sort(([a], [b]) => (a < b ? -1 : 1))
      .map(([verdict, times]) => `work ${verdict}: ${String(times)}`),
    '',
    ...section('Labels', labelRows(comparison), replayed.runs.length > 0 ? '' : 'The publishers gave none.'),
    ...section('Readings called spikes by the publishers, and readings left out', spikeRows(comparison), ''),
    ...section('Findings', findingRows(comparison), 'None.'),
    ...section('Requests', requestRows(comparison), 'None.'),
    ...section('Long labels, one by one', episodeRows(comparison), ''),
  ].join('\n')
}

export function siteYears({ replayed }: Comparison): number {
  return replayed.records.reduce((sum, { days }) => sum + days / YEAR_DAYS, 0)
}

function section(title: string, rows: readonly (readonly string[])[], none: string): string[] {
  if (rows.length > 1) return [title, ...aligned(rows), '']
  return none === '' ? [] : [title, none, '']
}

function aligned(rows: readonly (readonly string[])[]): string[] {
  const widths = rows[0]!.map((_, i) => Math.max(...rows.map(row => row[i]!.length)))
  return rows.map(row =>
    row
      .map((cell, i) => cell.padEnd(widths[i]!))
      .join('  ')
      .trimEnd(),
  )
}

function labelRows({ classes }: Comparison): string[][] {
  return [
    [
      ...['class', 'runs', 'readings', 'under 3 h', '3 h or more', 'found', 'by chance', 'watched', 'by chance'],
      'told after, median (range)',
    ],
    ...classes.map(one => [
      one.kind,
      String(one.runs),
      String(one.readings),
      String(one.brief),
      String(one.long.length),
      String(foundOf(one)),
      one.foundByChance.toFixed(1),
      String(one.watched),
      one.watchedByChance.toFixed(1),
      delays(one),
    ]),
  ]
}

function delays({ long }: ClassResult): string {
  const hours = long.flatMap(({ delayH }) => delayH ?? []).sort((a, b) => a - b)
  if (hours.length === 0) return ''
  const [least, most] = [hours[0]!, hours.at(-1)!]
  return `${hours[Math.floor((hours.length - 1) / 2)]!.toFixed(1)} h (${least.toFixed(1)} to ${most.toFixed(1)})`
}

function spikeRows({ replayed }: Comparison): string[][] {
  return [
    ['site', 'called spikes', 'left out of these', 'left out at other labels', 'at none', 'at none, of 1000'],
    ...replayed.spikes.map(({ site, labelled, leftOut, otherwiseLabelled, unlabelled, rows }) => [
      site,
      String(labelled),
      String(leftOut),
      String(otherwiseLabelled),
      String(unlabelled),
      ((1000 * unlabelled) / rows).toFixed(1),
    ]),
  ]
}

function findingRows(comparison: Comparison): string[][] {
  const years = siteYears(comparison)
  return [
    ['finding', 'times', 'hours', 'at a label', 'by chance', 'at none, a year'],
    ...comparison.findings.map(({ finding, times, hours, labelled, labelledByChance }) => [
      finding,
      String(times),
      hours.toFixed(0),
      String(labelled),
      labelledByChance.toFixed(1),
      ((times - labelled) / years).toFixed(1),
    ]),
  ]
}

function requestRows({ asked }: Comparison): string[][] {
  return [
    ['opened', 'days', 'site', 'action', 'cause', 'labels there'],
    ...asked.map(({ asked: one, labels }) => [
      minute(one.openedMs),
      ((one.untilMs - one.openedMs) / DAY_MS).toFixed(1),
      one.site,
      one.action,
      one.cause,
      labels.length === 0 ? 'none' : labels.join(', '),
    ]),
  ]
}

function episodeRows({ classes }: Comparison): string[][] {
  const long = classes.filter(({ kind }) => kind !== 'spikes').flatMap(one => one.long)
  long.sort((a, b) => a.episode.fromMs - b.episode.fromMs)
  return [
    ['begin', 'hours', 'readings', 'site', 'class', 'found by', 'told after, h'],
    ...long.map(({ episode, by, delayH }) => [
      minute(episode.fromMs),
      ((episode.toMs - episode.fromMs) / HOUR_MS).toFixed(1),
      String(episode.readings),
      episode.site,
      episode.kind,
      by?.finding ?? 'missed',
      delayH === undefined ? '' : delayH.toFixed(1),
    ]),
  ]
}

function day(atMs: number): string {
  return new Date(atMs).toISOString().slice(0, 10)
}

function minute(atMs: number): string {
  return new Date(atMs).toISOString().slice(0, 16).replace('T', ' ')
}
