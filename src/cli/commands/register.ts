import { basename } from 'node:path'
import type { Command } from 'commander'
import { stringify } from 'yaml'
import { isTimeZone } from '../../model/timeZone.js'
import { draftFrom } from '../draftFrom.js'
import { loadMap } from '../readFiles.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface DraftOptions {
  readonly files: readonly string[]
  readonly plant?: string
  readonly timeZone: string
  readonly map?: string
}

export function addRegister(program: Command, run: (options: DraftOptions) => Promise<void>): void {
  const register = program.command('register').description('Draft a register from a record, to be corrected by people')
  for (const [name, what] of [
    ['from-csv', 'CSV exports: readings and, where there are any, grab samples'],
    ['from-stream', 'NDJSON records'],
  ] as const) {
    register
      .command(name)
      .description(`draft from ${what}`)
      .argument('<file...>', 'files to look through')
      .option('--plant <name>', 'name of the plant; default: that of the first file')
      .option('--time-zone <zone>', 'zone of times without offset', 'UTC')
      .option('--map <file>', 'how the columns of the first file are to be read (YAML)')
      .addHelpText(
        'after',
        `\nExample:\n  turbidrift register ${name} readings${name === 'from-csv' ? '.csv grabs.csv' : '.ndjson'} > register.yaml`,
      )
      .action((files: string[], options: Omit<DraftOptions, 'files'>) => run({ ...options, files }))
  }
}

export async function runDraft(options: DraftOptions, terminal: Terminal): Promise<number> {
  if (!isTimeZone(options.timeZone)) {
    terminal.tell(`--time-zone ${options.timeZone} is refused: must be a time zone such as Europe/London`)
    return EXIT.usage
  }
  const map = await loadMap(options.map, terminal)
  if (map === undefined) return EXIT.refused
  // The map describes the first file; others are read by the names of their columns.
  const files = options.files.map((path, index) => ({ path, map: index === 0 ? map : {} }))
  const file = await draftFrom(files, options, terminal)
  if (file === undefined) return EXIT.refused
  terminal.out(
    `# Drafted from ${options.files.map(path => basename(path)).join(', ')}: check every line.\n${stringify(file)}`,
  )
  return EXIT.ok
}
