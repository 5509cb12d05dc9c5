import type { Logger } from 'pino'
import { createDropFolder, DROP_FEED } from '../adapters/dropFolder.js'
import { csvDefaults } from '../adapters/inputSource.js'
import { type RegisterFile } from '../model/register.js'
import { resolvePlant } from '../model/plant.js'
import type { RecordedInput } from '../model/recordedInput.js'
import type { Batcher } from './batcher.js'

export interface DropFolderFeedOptions {
  readonly folder: string
  readonly file: RegisterFile
  readonly batcher: Batcher
  /** Time of arrival to be recorded; undefined where plant time follows the messages. */
  readonly stamp: () => string | undefined
  readonly log: Logger
  readonly schedule: (afterMs: number, run: () => void) => () => void
}

const SCAN_EVERY_MS = 2_000

/** Takes what people put into a folder, file by file; a file is put away when all of it is on disk. @returns what ends it */
export function startDropFolderFeed(options: DropFolderFeedOptions): () => void {
  const { folder, batcher, log, schedule } = options
  const plant = resolvePlant(options.file)
  const drop = createDropFolder({
    folder,
    plant: () => plant,
    csv: map => csvDefaults(plant, map),
    hand: inputs => handIn(inputs, batcher, options.stamp()),
  })
  let ended = false
  let cancel = schedule(0, scan)
  return () => {
    ended = true
    cancel()
  }

  function scan(): void {
    drop
      .scan()
      .then(files => {
        for (const { file, taken, refused } of files) {
          if (refused.length === 0) log.info({ feed: DROP_FEED, file, taken }, 'File taken')
          else log.warn({ feed: DROP_FEED, file, taken, refused: refused.length }, 'File taken in part')
        }
      })
      .catch((err: unknown) => log.error({ err, folder }, 'The drop folder cannot be read'))
      .finally(() => {
        if (!ended) cancel = schedule(SCAN_EVERY_MS, scan)
      })
  }
}

function handIn(inputs: readonly RecordedInput[], batcher: Batcher, receivedAt: string | undefined): Promise<void> {
  let left = inputs.length
  return new Promise(resolve => {
    for (const input of inputs) {
      batcher.offer({
        input: receivedAt === undefined ? input : { ...input, receivedAt },
        committed: () => {
          if (--left === 0) resolve()
        },
      })
    }
  })
}
