import { fileURLToPath } from 'node:url'
import { expect, test } from 'vitest'
import { DATA_SCHEMA_BY_TYPE, type PlantEvent } from '../../../src/model/events.js'
import type { Said } from './scenario.js'
import { sentenceFaults, sentencesText } from './sentences.js'

/** What holds in every situation, whatever it is about; and the sentences, kept to be read. */
export function holdsEverywhere(said: Said): void {
  test('each sentence fits 240 characters and has a unit, a reason and a next step', () => {
    expect([...new Set(said.events.flatMap(sentenceFaults))]).toEqual([])
  })
  test('the sentences are the ones that were read and kept', async () => {
    await expect(sentencesText(said.events)).toMatchFileSnapshot(sentencesFile(said.plan.id))
  })
  test('at most one request is open about an analyzer', () => {
    expect(openedTwice(said.events)).toEqual([])
  })
  test('events keep to their schema, and none is a verdict of compliance', () => {
    const faults = said.events.flatMap(event => {
      const parsed = DATA_SCHEMA_BY_TYPE[event.type].safeParse(event.data)
      return parsed.success ? [] : [`${event.type} ${event.subject}: ${parsed.error.message}`]
    })
    expect(faults).toEqual([])
    expect(said.text()).not.toMatch(/\b(?:non-)?complian(?:t|ce with)\b|violat/i)
  })
  test('messages are taken, or refused with field, value and rule', () => {
    for (const { outcome } of said.refused) {
      if (outcome.kind !== 'rejected') continue
      for (const fault of outcome.faults) {
        expect(fault.field).not.toBe('')
        expect(fault.rule).not.toBe('')
      }
    }
  })
}

/** Beside the scenarios, wherever the test itself stands. */
function sentencesFile(id: string): string {
  return fileURLToPath(new URL(`../sentences/${id}.txt`, import.meta.url))
}

function openedTwice(events: readonly PlantEvent[]): string[] {
  const open = new Set<string>()
  const twice: string[] = []
  for (const { type, subject, time } of events) {
    if (type === 'recommendation.opened') {
      if (open.has(subject)) twice.push(`${subject} at ${time}`)
      open.add(subject)
    } else if (type === 'recommendation.closed' || type === 'recommendation.withdrawn') open.delete(subject)
  }
  return twice
}
