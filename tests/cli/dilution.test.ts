import { describe, expect, it } from 'vitest'
import { run } from './support.js'

const WATER = ['--water', '0.02', '--water-u', '0.01']
const STOCK = ['dilution', '--stock', '4000', '--stock-u', '40', ...WATER]
const FLASK = ['--flask', '1000', '--flask-limits', '0.4']
const whole = [...STOCK, '--pipette', '5', '--pipette-limits', '0.015', ...FLASK]

describe('dilution', () => {
  it('gives value, uncertainty and budget for machines', async () => {
    const { code, out } = await run(whole)
    expect(code).toBe(0)
    // By hand: 0.02 + 3999.98/200; 0.2, 0.00995, 0.0244948 (= 3.99998 · 0.015/√6), 0.00326597 (= 0.0199999 · 0.4/√6); stock 0.04/0.0407097.
    expect(JSON.parse(out)).toMatchObject({
      valueNtu: 20.0199,
      standardUncertaintyNtu: 0.202,
      takenMl: 5,
      budget: [
        { input: 'stock', ntu: 0.2, share: 0.983 },
        { input: 'water', ntu: 0.00995 },
        { input: 'pipette', ntu: 0.0245 },
        { input: 'flask', ntu: 0.00327 },
      ],
    })
  })

  it('tells people the value first, then cautions, steps and where the uncertainty comes from', async () => {
    const { out } = await run(whole, [])
    const words = out.replaceAll(/\s+/g, ' ')
    expect(words).toMatch(
      /^The dilution is worth 20\.02 NTU with a standard uncertainty of 0\.20 NTU \(1 %\), ± 0\.40 NTU with k = 2/,
    )
    const order = ['CAUTIONS', 'hydrazine salts', 'safety data sheet', 'STEPS', 'Take 5 mL', 'How long', 'share of']
    const places = order.map(one => words.indexOf(one))
    expect(places.every(place => place > 0)).toBe(true)
    expect(places).toEqual([...places].sort((a, b) => a - b))
    for (const line of out.split('\n')) expect(line.length).toBeLessThanOrEqual(100)
  })

  it('works out the volume for a value wanted', async () => {
    const { code, out } = await run([...STOCK, '--target', '40', '--pipette-u', '0.01', ...FLASK])
    expect(code).toBe(0)
    expect(JSON.parse(out)).toMatchObject({ valueNtu: 40, takenMl: 9.99505 })
  })

  it.each([
    [[...STOCK, '--pipette-u', '0.01', ...FLASK], 'give --pipette'],
    [[...STOCK, '--pipette', '5', ...FLASK], 'give --pipette-u or --pipette-limits'],
    [[...STOCK, '--pipette', '5', '--pipette-u', '0', '--flask', '100'], 'give --flask-u or --flask-limits'],
    [[...STOCK, '--pipette', '1000', '--pipette-u', '0', ...FLASK], '--pipette 1000 is refused'],
    [[...STOCK, '--target', '4000', '--pipette-u', '0', ...FLASK], '--target 4000 is refused'],
    [[...STOCK, '--target', '40', '--pipette', '5', '--pipette-u', '0', ...FLASK], 'cannot be used with'],
    [
      ['dilution', '--stock', '1', '--stock-u', '0', '--water', '2', '--water-u', '-1'],
      'must be a number of 0 or more',
    ],
    [
      ['dilution', '--stock', '1', '--stock-u', '0', '--water', '2', '--water-u', '0', '--target', '1', ...FLASK],
      '--stock 1 is refused',
    ],
  ])('refuses %j', async (args, sentence) => {
    const ran = await run(args)
    expect(ran.code).toBe(2)
    expect(ran.told).toContain(sentence)
  })
})
