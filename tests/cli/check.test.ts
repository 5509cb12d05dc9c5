import { describe, expect, it } from 'vitest'
import { solveOneSidedLimit } from '../../src/statistics/solveLimit.js'
import { REGISTER, run, scratch } from './support.js'

const { put } = scratch()
const register = put('register.yaml', REGISTER)

describe('check', () => {
  it('shows what the budget means for each point', async () => {
    const ran = await run(['check', '--register', register])
    expect(ran.code).toBe(0)
    const points = ran.out
      .trimEnd()
      .split('\n')
      .map(line => JSON.parse(line) as { point: string; falseOpeningsPerMonth: number; lines: { line: string }[] })
    expect(points.map(point => point.point)).toEqual(['FE3', 'RW'])
    expect(points[0]!.lines.map(({ line }) => line)).toEqual(['grab', 'redundant'])
    expect(points[1]!.lines.map(({ line }) => line)).toEqual(['grab'])
    // Three analyzers, one false opening in five analyzer-years each: 3/60 a month, by hand.
    expect(points.reduce((sum, point) => sum + point.falseOpeningsPerMonth, 0)).toBeCloseTo(3 / 60, 3)
    expect((await run(['check', '--register', register, '--format', 'table'])).out).toContain(
      'expect at most 0.05 a month',
    )
  })

  it('names once each field that is kept and not used yet, and none where there is none', async () => {
    expect((await run(['check', '--register', register])).told).toBe('')
    const more = REGISTER.replaceAll('intervalS: 300 }', 'intervalS: 300, responseS: 30 }').replace(
      'lowIsWorse: true',
      'area: Filter hall\n    habitualDays: 30',
    )
    const ran = await run(['check', '--register', put('more.yaml', more)])
    expect(ran).toMatchObject({ code: 0, told: 'note: kept, not used yet: responseS\n' })
  })

  it('tells every mistake at once and ends with 1', async () => {
    const ran = await run(['check', '--register', put('bad.yaml', REGISTER.replaceAll('NTU,', 'ntu,'))])
    expect(ran).toMatchObject({ code: 1, out: '' })
    expect(ran.told.trimEnd().split('\n')).toHaveLength(3)
    expect(ran.told).toMatch(/^bad\.yaml:9:22 points\.FE3\.analyzers\.FE3-A\.unit: "ntu" is refused/)
  })

  it.each([
    ['intervalS: 300 }\n  RW', 'intervalS: 60 }\n  RW', 'points.FE3.analyzers.FE3-B.intervalS', 'charts_go_on'],
    ['perDay: 4', 'perDay: 2', 'points.FE3.grab.perDay', 'limits_anew'],
    ['absoluteNtu: 1', 'absoluteNtu: 2', 'points.RW.tolerance.absoluteNtu', 'limits_anew'],
    ['RW-A: {', 'RW-B: { unit: NTU }\n      RW-A: {', 'points.RW.analyzers.RW-B', 'lines_restart'],
    ['  RW:', '  BW: { analyzers: { BW-A: { unit: NTU } } }\n  RW:', 'points.BW', 'lines_restart'],
    ['RW-A: { unit: NTU', 'RW-A: { unit: FNU', 'points.RW.analyzers.RW-A.unit', 'charts_go_on_unless_replaced'],
    ['plant: hollin-weir', 'plant: marl-hill', 'plant', 'plant_begins'],
    ['name: Hollin', 'name: New Hollin', 'name', 'charts_go_on'],
  ])('says what changing %j to %j does', async (before, after, changed, effect) => {
    const other = put('new.yaml', REGISTER.replace(before, after))
    const ran = await run(['check', '--register', other, '--against', register])
    const lines = ran.out
      .trimEnd()
      .split('\n')
      .map(line => JSON.parse(line) as object)
    expect(lines.filter(line => 'changed' in line)).toEqual([{ changed, effect }])
  })
})

describe('chart-limits', () => {
  it('prints the limits the charts use', async () => {
    const ran = await run(['chart-limits', '--s', '5', '--pairs-a-day', '4'])
    const row = JSON.parse(ran.out) as { limit: number; pairsPerFalseSignal: number }
    // Limit in sigma times 2k, with 1/5 on the grid of 2.8 %: the solver is checked against published tables elsewhere.
    const u = Number(Math.exp(Math.round(Math.log(1 / 5) * 36) / 36).toPrecision(6))
    const k = (0.6 - 0.25) / (2 * u)
    const limit = 2 * k * solveOneSidedLimit({ k, arl: row.pairsPerFalseSignal, capFraction: 0.4 })
    expect(row.limit).toBeCloseTo(limit, 2)
  })

  it('refuses a chart tuned to what is normal', async () => {
    const ran = await run(['chart-limits', '--delta1', '0.2'])
    expect(ran).toMatchObject({ code: 2, told: expect.stringContaining('must be greater than --delta0') })
  })
})
