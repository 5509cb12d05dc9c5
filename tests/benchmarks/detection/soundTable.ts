import { poissonDistribution } from 'simple-statistics'
import { textTable } from '../../../src/report/terminal/textTable.js'
import { SOUND } from './grid.js'
import type { Results } from './tasks.js'

const YEARS_PER_FALSE_ALARM = 5

/** False openings where nothing is wrong with any analyzer, beside what the budget allows. */
export function soundTable(verdicts: Results['sound']): string {
  const columns = [
    { head: 'nothing wrong with any analyzer', width: 32 },
    { head: 'analyzer-years', width: 9 },
    { head: 'false openings', width: 9 },
    { head: 'allowed (95 % of a Poisson law of the budget)', width: 16 },
    { head: 'laboratory named', width: 12 },
  ]
  return textTable(
    columns,
    SOUND.map(kind => {
      const fleets = verdicts.filter(({ sound }) => sound === kind)
      const years = fleets.reduce((sum, fleet) => sum + fleet.analyzerYears, 0)
      const opened = fleets.reduce((sum, fleet) => sum + fleet.falseOpenings.length, 0)
      const named = fleets.reduce((sum, fleet) => sum + fleet.laboratoryNamed.length, 0)
      const shifts = kind.startsWith('laboratory') ? ` of ${String(2 * fleets.length)}` : ''
      return [
        kind,
        years.toFixed(1),
        String(opened),
        String(poissonBound(years / YEARS_PER_FALSE_ALARM)),
        `${String(named)}${shifts}`,
      ]
    }),
  )
}

/** Smallest count that a Poisson law of this mean stays at or below with probability 0.95. */
export function poissonBound(mean: number): number {
  let sum = 0
  const shares = poissonDistribution(mean) ?? []
  for (const [count, share] of shares.entries()) {
    sum += share
    if (sum >= 0.95) return count
  }
  return shares.length
}
