import { describe, expect, it } from 'vitest'
import { parseTopicTemplate } from '../../src/adapters/topicTemplate.js'

// Wildcards and the rule on `$` topics: OASIS MQTT 5.0 §4.7.1 and §4.7.2.
describe('topic templates', () => {
  it.each([
    ['plant/{analyzer}/turbidity', 'plant/+/turbidity', 'plant/FE3-B/turbidity', { analyzer: 'FE3-B' }],
    ['{point}/{analyzer}', '+/+', 'CFE/CFE-A', { point: 'CFE', analyzer: 'CFE-A' }],
    ['wtp/turb-{analyzer}-raw', 'wtp/+', 'wtp/turb-RW-A-raw', { analyzer: 'RW-A' }],
    ['a/+/{analyzer}/#', 'a/+/+/#', 'a/x/RW-A', { analyzer: 'RW-A' }],
    ['a/+/{analyzer}/#', 'a/+/+/#', 'a/x/RW-A/b/c', { analyzer: 'RW-A' }],
    ['sport/#', 'sport/#', 'sport', {}],
    ['{analyzer}', '+', 'constructor', { analyzer: 'constructor' }],
  ])('%s asks for %s and reads %s', (template, filter, topic, values) => {
    const parsed = parseTopicTemplate(template)
    expect(parsed.ok && parsed.template.filter).toBe(filter)
    expect(parsed.ok && parsed.template.match(topic)).toEqual(values)
  })

  it.each([
    ['plant/{analyzer}/turbidity', 'plant/FE3-B/flow'],
    ['plant/{analyzer}/turbidity', 'plant/FE3-B/turbidity/raw'],
    ['plant/{analyzer}/turbidity', 'plant/FE3-B'],
    ['plant/turb-{analyzer}', 'plant/turb-'],
    ['{analyzer}/#', '$SYS/broker'],
    ['+', '$SYS'],
    ['sport/+', 'sport'],
  ])('%s does not read %s', (template, topic) => {
    const parsed = parseTopicTemplate(template)
    expect(parsed.ok && parsed.template.match(topic)).toBeUndefined()
  })

  it.each([
    ['', 'must be at least one character'],
    ['a/#/b', 'must have # as its last level only'],
    ['a/b#', 'must have levels of plain text'],
    ['a/{b}{c}', 'must have levels of plain text'],
    ['a/{b', 'must have levels of plain text'],
    ['a/{__proto__}', 'must have levels of plain text'],
    ['{a}/{a}', 'must name {a} once only'],
  ])('refuses %j: %s', (template, rule) => {
    const parsed = parseTopicTemplate(template)
    expect(!parsed.ok && parsed.fault.field).toBe('topic')
    expect(!parsed.ok && parsed.fault.rule).toContain(rule)
  })
})
