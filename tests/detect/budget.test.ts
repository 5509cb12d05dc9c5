import { describe, expect, it } from 'vitest'
import { redundantLines } from '../../src/compare/redundant.js'
import { chartSides, limitsOf } from '../../src/detect/budget.js'
import { chartDifference, newRedundantChart } from '../../src/detect/redundantChart.js'
import { chartGrabPair, newGrabChart } from '../../src/detect/grabChart.js'
import { plantOf, pointOf, REGISTER, START_MS } from '../model/plantFixture.js'

const PLANT = plantOf()
const FOUR = plantOf({
  plant: 'p',
  points: { P: { analyzers: { A: { unit: 'NTU' }, B: { unit: 'NTU' }, C: { unit: 'NTU' }, D: { unit: 'NTU' } } } },
})

describe('the false-alarm budget', () => {
  it.each([
    ['SW', 2],
    ['FE3', 4],
    ['CFE', 4],
  ])('at %s %d one-sided charts share the budget of an analyzer', (id, sides) => {
    expect(chartSides(pointOf(id, PLANT))).toBe(sides)
  })

  it('means so many false openings a month', () => {
    const perMonth = new Map(limitsOf(PLANT).map(one => [one.point, one.falseOpeningsPerMonth]))
    expect(perMonth.get('SW')).toBeCloseTo(1 / 60, 12)
    expect(perMonth.get('CFE')).toBeCloseTo(3 / 60, 12)
    const strict = plantOf({ ...REGISTER, falseAlarmBudget: { analyzerYearsPerFalseAlarm: 10 } })
    expect(limitsOf(strict).find(one => one.point === 'CFE')?.falseOpeningsPerMonth).toBeCloseTo(3 / 120, 12)
  })

  it('prints the limits the charts will solve', () => {
    for (const plant of [PLANT, FOUR]) {
      for (const { point: id, lines } of limitsOf(plant)) {
        const point = pointOf(id, plant)
        const grab = newGrabChart()
        const [printed, redundant] = lines
        chartGrabPair(grab, plant, point.grab.perDay, chartSides(point), START_MS, 0, 1 / printed!.s)
        expect(printed?.limit).toBe(grab.chart.limit)
        const [line] = redundantLines(point)
        if (line === undefined) continue
        const chart = newRedundantChart()
        for (const hours of [0, 6])
          chartDifference(
            chart,
            line,
            point.analyzers.length,
            plant,
            chartSides(point),
            START_MS + hours * 3_600_000,
            0,
          )
        expect(redundant?.limit).toBe(chart.chart.limit)
      }
    }
  })
})
