import type { Command } from 'commander'
import { openLineWriter } from '../../adapters/lineWriter.js'
import { exportJournal } from '../../service/exportJournal.js'
import { openStoreToRead } from '../openStore.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface ExportJournalOptions {
  readonly store: string
  readonly out: string
}

export function addExportJournal(program: Command, run: (options: ExportJournalOptions) => Promise<void>): void {
  program
    .command('export-journal')
    .description('Write the journal of a store as NDJSON: every message as it came, registers and ticks included')
    .requiredOption('--store <file>', 'store of a service; it may be running')
    .option('--out <file>', 'file to write, packed where the name ends in .gz; - for standard output', '-')
    .addHelpText(
      'after',
      `
A replay of the journal gives the events of the service, byte for byte.

Example:
  turbidrift export-journal --store .turbidrift/hollin-weir.db --out journal.ndjson.gz
  turbidrift replay journal.ndjson.gz --out events.ndjson`,
    )
    .action((options: ExportJournalOptions) => run(options))
}

export async function runExportJournal(options: ExportJournalOptions, terminal: Terminal): Promise<number> {
  const store = openStoreToRead(options.store, terminal)
  if (store === undefined) return EXIT.notFound
  try {
    const writer = openLineWriter(options.out)
    let lines = 0
    for (const line of exportJournal(store)) {
      writer.write(line)
      lines += 1
      if (lines % FLUSH_EVERY === 0) await writer.flush()
      if (writer.gone()) break
    }
    await writer.close()
    terminal.tell(`${String(lines)} inputs written`)
    return EXIT.ok
  } finally {
    store.close()
  }
}

const FLUSH_EVERY = 2_000
