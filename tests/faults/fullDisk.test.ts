import { execFileSync } from 'node:child_process'
import { closeSync, mkdtempSync, openSync, rmSync, writeSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { setTimeout } from 'node:timers/promises'
import { DatabaseSync } from '@photostructure/sqlite'
import { afterAll, afterEach, beforeEach, describe, expect, it } from 'vitest'
import { eventually } from '../support/eventually.js'
import { hasMosquitto } from '../support/mosquitto.js'
import { KILLS } from '../support/servers/faultSize.js'
import { type MosquittoPlant, mosquittoPlant, TOPIC } from './mosquittoPlant.js'
import { type SenderProcess, type ServeProcess, startSender } from './processes.js'

const REFUSES =
  'The store takes nothing, so nothing is acknowledged; tried again each second for a minute, then the service ends'
const TAKES_AGAIN = 'The store takes batches again'
const CANNOT_GO_ON = 'The service cannot go on'
const SIZE_MIB = 48
/** Of the operating system. */
const MOUNT = 'mount'
const UNMOUNT = 'umount'

const volume = hasMosquitto() ? mountVolume() : undefined
const where = volume === undefined ? ' (needs Mosquitto and leave to mount a tmpfs)' : ''

describe.skipIf(volume === undefined)(`serve with its state on a volume that is full${where}`, () => {
  const state = join(volume ?? '', 'state')
  const ballast = join(volume ?? '', 'ballast')
  let plant: MosquittoPlant
  beforeEach(async () => {
    plant = await mosquittoPlant({ before: '2026-04-11T00:00:00Z', storeFolder: state })
  }, 180_000)
  afterEach(async () => {
    await plant.remove()
    for (const path of [ballast, state]) rmSync(path, { force: true, recursive: true })
  })
  afterAll(() => {
    // Lazily: a store that was read here is let go of when its statements are collected.
    execFileSync(UNMOUNT, ['--lazy', volume!])
    rmSync(volume!, { recursive: true })
  })

  it('acknowledges nothing, says so once, and goes on when there is room', async () => {
    const service = await plant.start()
    const sender = await sendUntilFull(service)
    try {
      const stuckAt = plant.onDisk()
      // Not a wait that proves something: it gives the service time for attempts that could go wrong.
      await setTimeout(2_500)
      expect(plant.onDisk()).toBe(stuckAt)
      rmSync(ballast)
      await eventually('it goes on', () => times(service, TAKES_AGAIN) === 1)
      await plant.sameEvents(service)
      expect(times(service, REFUSES)).toBe(1)
      expect(integrity()).toBe('ok')
    } finally {
      sender.end()
      await service.kill('SIGKILL')
    }
  }, 300_000)

  // A minute of attempts has to pass: only in the full run.
  it.skipIf(KILLS < 50)(
    'ends with code 1 after a minute, and goes on from there when it is started again',
    async () => {
      let service = await plant.start()
      const sender = await sendUntilFull(service)
      try {
        await eventually('the service has ended', () => service.exitCode() !== null, 120_000)
        expect(service.exitCode()).toBe(1)
        expect(times(service, CANNOT_GO_ON)).toBe(1)
        rmSync(ballast)
        service = await plant.start()
        await plant.sameEvents(service)
        expect(integrity()).toBe('ok')
      } finally {
        sender.end()
        await service.kill('SIGKILL')
      }
    },
    300_000,
  )

  async function sendUntilFull(service: ServeProcess): Promise<SenderProcess> {
    await plant.connected(service)
    const sender = startSender(plant.broker.url, plant.stream, TOPIC, 500)
    await eventually('a third is on disk', () => plant.onDisk() >= plant.lines.length / 3)
    fill(ballast)
    await eventually('the store takes nothing more', () => times(service, REFUSES) === 1)
    return sender
  }

  function integrity(): unknown {
    const db = new DatabaseSync(join(state, 'plant.db'), { readOnly: true })
    const row = db.prepare('PRAGMA integrity_check').get() as { integrity_check: unknown }
    db.close()
    return row.integrity_check
  }
})

/** A small volume of its own for the state; only root may mount one, and not in every container. */
function mountVolume(): string | undefined {
  const folder = mkdtempSync(join(tmpdir(), 'turbidrift-volume-'))
  try {
    execFileSync(MOUNT, ['-t', 'tmpfs', '-o', `size=${SIZE_MIB}m`, 'tmpfs', folder], { stdio: 'ignore' })
    return folder
  } catch {
    rmSync(folder, { recursive: true })
    return undefined
  }
}

/** Writes until the volume takes nothing more. */
function fill(path: string): void {
  const file = openSync(path, 'w')
  const block = Buffer.alloc(65_536)
  try {
    for (;;) writeSync(file, block)
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code !== 'ENOSPC') throw error
  } finally {
    closeSync(file)
  }
}

function times(service: ServeProcess, sentence: string): number {
  return service.log.filter(({ msg }) => msg === sentence).length
}
