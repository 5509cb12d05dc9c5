import { describe, expect, it } from 'vitest'
import { checkRegister } from '../../src/model/checkRegister.js'

const value = { device: '{analyzer}', metric: 'turbidity', field: 'value' }
const feed = { name: 'gateway', type: 'sparkplug', group: 'Hollin Weir', metrics: [value] }
const withFeed = (more: object) => ({
  plant: 'p',
  points: { FE1: { analyzers: { 'FE1-A': { unit: 'NTU' } } } },
  feeds: [{ ...feed, ...more }],
})

describe('a feed of Sparkplug in the register', () => {
  it.each<[string, object]>([
    ['names by a slot', {}],
    ['one edge node and its broker', { node: 'Filters', url: 'mqtt://127.0.0.1:1883' }],
    ['a metric of the edge node itself', { metrics: [{ metric: 'FE1/turbidity', analyzer: 'FE1-A', field: 'value' }] }],
    [
      'what goes with the value',
      {
        metrics: [
          value,
          { device: '{analyzer}', metric: 'flow', field: 'flowLMin' },
          { device: '{analyzer}', metric: 'ok', field: 'quality', words: { true: 'good', false: 'bad' } },
          { device: '{analyzer}', metric: 'mode', field: 'state', words: { 1: 'maintenance' } },
        ],
      },
    ],
  ])('may have %s', (_, more) => {
    expect(checkRegister(withFeed(more))).toMatchObject({ ok: true })
  })

  it.each<[string, object, string[]]>([
    ['no group', { group: undefined }, ['feeds.0.group']],
    ['a wildcard for a group', { group: '+' }, ['feeds.0.group']],
    ['a topic, which is of mqtt', { topic: 'x' }, ['feeds.0.topic']],
    ['no metrics', { metrics: [] }, ['feeds.0.metrics']],
    ['no value among the metrics', { metrics: [{ ...value, field: 'quality' }] }, ['feeds.0.metrics']],
    ['a metric twice', { metrics: [value, value] }, ['feeds.0.metrics.1.metric']],
    [
      'an unknown analyzer',
      { metrics: [{ metric: 'm', analyzer: 'X', field: 'value' }] },
      ['feeds.0.metrics.0.analyzer'],
    ],
    ['nobody whose it is', { metrics: [{ metric: 'm', field: 'value' }] }, ['feeds.0.metrics.0.analyzer']],
    ['both slot and analyzer', { metrics: [{ ...value, analyzer: 'FE1-A' }] }, ['feeds.0.metrics.0.analyzer']],
    ['the slot twice', { metrics: [{ ...value, metric: '{analyzer}' }] }, ['feeds.0.metrics.0.metric']],
    ['words for a number', { metrics: [{ ...value, words: { x: 'bad' } }] }, ['feeds.0.metrics.0.words']],
    [
      'a word of another field',
      { metrics: [value, { ...value, metric: 'q', field: 'quality', words: { 1: 'maintenance' } }] },
      ['feeds.0.metrics.1.words.1'],
    ],
    ['a type nobody knows', { type: 'opc' }, ['feeds.0.type']],
    ['url and connection', { url: 'mqtt://x', connection: 'y' }, ['feeds.0.connection']],
  ])('must not have %s', (_, more, fields) => {
    const checked = checkRegister(withFeed(more))
    expect(checked.ok ? [] : checked.faults.map(({ field }) => field)).toEqual(fields)
  })
})
