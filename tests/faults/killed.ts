import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { openStore } from '../../src/adapters/sqliteStore.js'
import { comparable } from './expected.js'
import type { SenderProcess, ServeProcess } from './processes.js'
import { eventually } from '../support/eventually.js'
import { KILLS } from '../support/servers/faultSize.js'

/** Plant time up to which the sample is sent: sixteen and a half days, with findings and openings in them. */
export const BEFORE = '2026-04-17T12:00:00Z'

export function temporaryFolder(): { readonly folder: string; readonly remove: () => void } {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-faults-'))
  return { folder, remove: () => rmSync(folder, { recursive: true, force: true }) }
}

/** Numbers of messages after which the service is killed: all over the run. */
export function killMoments(messages: number): readonly number[] {
  return moments(20261125, KILLS, messages * 0.95)
}

/** So many numbers up to a last one, in order: drawn once, from a seed, one in each of as many equal parts. */
export function moments(seed: number, count: number, last: number): readonly number[] {
  let state = seed
  return Array.from({ length: count }, (_, index) => {
    // Numerical Recipes' linear congruential generator: any spread will do here.
    state = (Math.imul(state, 1_664_525) + 1_013_904_223) >>> 0
    return Math.floor(((index + state / 2 ** 32) / count) * last)
  })
}

/** Kills and restarts the service whenever so many messages are on disk, until all moments have passed. */
export async function killAtMoments(
  moments: readonly number[],
  start: () => Promise<ServeProcess>,
  onDisk: () => number,
  sender: SenderProcess,
): Promise<ServeProcess> {
  let service = await start()
  try {
    for (const moment of moments) {
      await eventually(`${moment} messages on disk`, () => sender.done() || onDisk() >= moment)
      await service.kill('SIGKILL')
      service = await start()
    }
  } catch (error) {
    // The caller does not know this one yet.
    await service.kill('SIGKILL')
    throw error
  }
  return service
}

/** How many inputs a store holds; 0 while there is none. Reads beside the service, as `status` does. */
export function inputsIn(path: string): number {
  if (!existsSync(path)) return 0
  const opened = openStore(path, undefined, { readOnly: true })
  if (!opened.ok) return 0
  const { store } = opened
  const count = store.lastSeq()
  store.close()
  return count
}

/** What an events file says, by id; an event that came twice must have come with the same content. */
export function eventsOf(path: string): ReadonlyMap<string, string> {
  const events = new Map<string, string>()
  for (const line of readFileSync(path, 'utf8').split('\n').slice(0, -1)) keep(events, line)
  return events
}

export function keep(events: Map<string, string>, body: string): void {
  const { id } = JSON.parse(body) as { id: string }
  const content = comparable(body)
  const known = events.get(id)
  if (known !== undefined && known !== content) throw new Error(`${id} came with two contents:\n${known}\n${content}`)
  events.set(id, content)
}
