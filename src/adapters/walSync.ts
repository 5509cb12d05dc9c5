import { closeSync, existsSync, fdatasync, fdatasyncSync, openSync } from 'node:fs'

/**
 * Brings the write-ahead log of a store onto the disk beside the other work of the process. SQLite locks the store and
 * its index of the log, never the log itself, so that another handle on it takes no lock away.
 */
export interface WalSync {
  /** At once, where there is a log. @throws where the disk fails */
  readonly now: () => void
  /** Calls back when everything written before the call would outlive a power cut, or with what the disk said. */
  readonly later: (done: (error?: Error) => void) => void
  readonly close: () => void
}

/** @param path of the store; `:memory:` has nothing to synchronise */
export function walSync(path: string): WalSync {
  const log = `${path}-wal`
  let file: number | undefined
  // The log is one file as long as somebody has the store open, and is made by the first write.
  const open = (): number => (file ??= openSync(log, 'r+'))
  return {
    now: () => {
      if (existsSync(log)) fdatasyncSync(open())
    },
    later: done => {
      if (path === ':memory:') {
        done()
        return
      }
      let opened: number
      try {
        opened = open()
      } catch (error) {
        done(error as Error)
        return
      }
      fdatasync(opened, error => done(error ?? undefined))
    },
    close: () => {
      if (file !== undefined) closeSync(file)
      file = undefined
    },
  }
}
