import { existsSync } from 'node:fs'
import { openStore, type Store } from '../adapters/sqliteStore.js'
import type { Terminal } from './terminal.js'

/** Opens a store to look into it, and tells why where that fails. */
export function openStoreToRead(path: string, terminal: Terminal): Store | undefined {
  if (!existsSync(path)) {
    terminal.tell(`${path}: there is no such file`)
    return undefined
  }
  const opened = openStore(path, undefined, { readOnly: true })
  if (opened.ok) return opened.store
  terminal.tell(opened.problem)
  return undefined
}
