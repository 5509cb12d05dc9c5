import { quantile } from 'simple-statistics'
import { textTable } from '../../../src/report/terminal/textTable.js'
import type { FaultCase, FleetVerdict } from './cases.js'
import { scoreCovers } from './covering.js'
import { GRABS_PER_DAY, S_VALUES, TROUBLES, UNITS } from './grid.js'
import { causeTables, coverTable } from './scoreTables.js'
import { scoreCauses } from './scoring.js'

/** What was said of the faults of the grid. */
export function faultTables(fleets: readonly FleetVerdict[]): string {
  const cases = fleets.flatMap(fleet => fleet.cases)
  const falseOpenings = fleets.flatMap(fleet => fleet.falseOpenings)
  const years = fleets.reduce((sum, fleet) => sum + fleet.analyzerYears, 0)
  const sampled = cases.filter(one => one.grabsPerDay > 0)
  const unsampled = cases.filter(one => one.grabsPerDay === 0)
  return [
    openingTable(sampled),
    `Two units without grab samples: ${String(unsampled.length)} faults, which unit asked in ${String(unsampled.filter(one => one.asked).length)}, a unit named in ${String(unsampled.filter(one => one.opened !== null).length)}.`,
    coverTable(scoreCovers(sampled)),
    causeTables(
      scoreCauses(sampled.flatMap(one => (one.opened?.rightUnit === true ? [one.opened.causes] : []))),
      'at opening',
    ),
    causeTables(
      scoreCauses(sampled.flatMap(one => (one.opened?.rightUnit === true && one.later !== null ? [one.later] : []))),
      '14 days later',
    ),
    `At the sound points of the same plants: ${String(falseOpenings.length)} false openings in ${years.toFixed(0)} analyzer-years.`,
  ].join('\n')
}

interface Group {
  readonly name: string
  readonly has: (one: FaultCase) => boolean
}

const GROUPS: readonly Group[] = [
  ...S_VALUES.flatMap(s =>
    GRABS_PER_DAY.map(rate => ({
      name: `s ${String(s)}, ${String(rate)} a day`,
      has: (one: FaultCase) => one.s === s && one.grabsPerDay === rate,
    })),
  ),
  ...UNITS.map(units => ({
    name: `${String(units)} unit${units > 1 ? 's' : ''}`,
    has: (one: FaultCase) => one.units === units,
  })),
  ...TROUBLES.map(trouble => ({ name: trouble, has: (one: FaultCase) => one.trouble === trouble })),
  { name: 's ≥ 3, ≥ 2 a day, grows', has: one => one.s >= 3 && one.grabsPerDay >= 2 && one.shape !== 'step' },
  { name: 's 2, ≥ 2 a day, grows', has: one => one.s === 2 && one.grabsPerDay >= 2 && one.shape !== 'step' },
  {
    name: 'two units, s ≥ 3, ≥ 1 a day, grows',
    has: one => one.units === 2 && one.s >= 3 && one.shape !== 'step' && one.trouble !== 'common mode',
  },
]

function openingTable(cases: readonly FaultCase[]): string {
  const columns = [
    { head: 'faults', width: 34 },
    { head: 'n', width: 4 },
    { head: 'opened', width: 6 },
    { head: 'wrong unit', width: 5 },
    { head: 'before tolerance', width: 9 },
    { head: 'bias, median', width: 6 },
    { head: '95 %', width: 5 },
    { head: 'early', width: 5 },
    { head: 'days from ¼ tolerance', width: 9 },
  ]
  const rows = GROUPS.map(({ name, has }) => {
    const group = cases.filter(has)
    const opened = group.flatMap(one => (one.opened === null ? [] : [one.opened]))
    const right = opened.filter(one => one.rightUnit)
    const biases = right.map(one => Math.abs(one.bias)).sort((a, b) => a - b)
    return [
      name,
      String(group.length),
      share(opened.length, group.length),
      share(opened.length - right.length, group.length),
      share(right.filter(one => one.beforeTolerance).length, group.length),
      at(biases, 0.5),
      at(biases, 0.95),
      share(biases.filter(bias => bias < 0.5).length, group.length),
      at(
        right.map(one => one.delayDays),
        0.5,
        1,
      ),
    ]
  })
  return textTable(columns, rows, false)
}

function share(part: number, whole: number): string {
  return whole === 0 ? '' : `${((100 * part) / whole).toFixed(0)} %`
}

function at(values: readonly number[], p: number, digits = 2): string {
  return values.length === 0 ? '' : quantile([...values], p).toFixed(digits)
}
