import { mkdir, writeFile } from 'node:fs/promises'
import { dirname, join } from 'node:path'
import type { Command } from 'commander'
import { contractDocuments } from '../../report/contract.js'
import { EVENT_TYPE_PREFIX } from '../../service/version.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface ContractOptions {
  readonly out: string
  readonly prefix: string
}

export function addContract(program: Command, run: (options: ContractOptions) => Promise<void>): void {
  program
    .command('contract')
    .description('Write JSON Schemas of every message in and event out, and an AsyncAPI document over all of them')
    .requiredOption('--out <folder>', 'folder to write to; files of the same names are replaced')
    .option('--prefix <text>', 'what the types of events begin with, as serve was told', EVENT_TYPE_PREFIX)
    .addHelpText(
      'after',
      `
They are made from the schemas that messages are checked with.

Example:
  turbidrift contract --out contract`,
    )
    .action((options: ContractOptions) => run(options))
}

export async function runContract({ out, prefix }: ContractOptions, terminal: Terminal): Promise<number> {
  const documents = contractDocuments(prefix)
  for (const { path, text } of documents) {
    const file = join(out, path)
    await mkdir(dirname(file), { recursive: true })
    await writeFile(file, text)
  }
  terminal.tell(`${String(documents.length)} files written to ${out}`)
  return EXIT.ok
}
