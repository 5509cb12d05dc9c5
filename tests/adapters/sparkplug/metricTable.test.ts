import { describe, expect, it } from 'vitest'
import { metricTable } from '../../../src/adapters/sparkplug/metricTable.js'
import type { Unit } from '../../../src/model/units.js'

const units = new Map<string, Unit>([
  ['FE1-A', 'NTU'],
  ['RW-A', 'FNU'],
])

describe('the table of metrics', () => {
  const table = metricTable(
    [
      { metric: 'raw/turbidity', analyzer: 'RW-A', field: 'value' },
      { device: 'turb-{analyzer}', metric: 'NTU', field: 'value' },
      { metric: 'Analyzers/{analyzer}/flow', field: 'flowLMin' },
      { device: 'turb-FE1-A', metric: 'NTU', analyzer: 'RW-A', field: 'value' },
      { device: 'skid', metric: 'state', analyzer: 'RW-A', field: 'state', words: { 1: 'maintenance' } },
    ],
    units,
  )

  it.each<[string | undefined, string, object | undefined]>([
    [undefined, 'raw/turbidity', { analyzer: 'RW-A', unit: 'FNU', field: 'value' }],
    ['raw', 'turbidity', undefined],
    ['turb-FE1-A', 'NTU', { analyzer: 'FE1-A', unit: 'NTU', field: 'value' }],
    ['turb-FE9-A', 'NTU', { analyzer: 'FE9-A', unit: undefined, field: 'value' }],
    ['turb-', 'NTU', undefined],
    ['turb-FE1-A', 'flow', undefined],
    [undefined, 'Analyzers/FE1-A/flow', { analyzer: 'FE1-A', unit: 'NTU', field: 'flowLMin' }],
    [undefined, 'Analyzers//flow', undefined],
    ['skid', 'state', { analyzer: 'RW-A', unit: 'FNU', field: 'state', words: { 1: 'maintenance' } }],
    ['skid', 'other', undefined],
  ])('finds %s %s', (device, metric, expected) => {
    const found = table.find(device, metric)
    if (expected === undefined) expect(found).toBeUndefined()
    else expect(found).toEqual({ words: undefined, ...expected })
  })

  it('knows which devices can be of interest', () => {
    expect([undefined, 'skid', 'turb-FE1-A', 'pump', 'raw'].map(table.wants)).toEqual([true, true, true, false, false])
    expect([undefined, 'turb-FE1-A', 'turb-FE9-A', 'pump'].map(table.knows)).toEqual([true, true, false, false])
    const ofDevices = metricTable([{ device: '{analyzer}', metric: 'NTU', field: 'value' }], units)
    expect([undefined, 'pump'].map(ofDevices.wants)).toEqual([false, true])
  })
})
