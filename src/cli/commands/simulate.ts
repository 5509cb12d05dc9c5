import { mkdir, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import type { Command } from 'commander'
import { openLineWriter } from '../../adapters/lineWriter.js'
import { simulatePlant } from '../../simulate/simulatePlant.js'
import { wholeNumber } from '../arguments.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface SimulateOptions {
  readonly seed: number
  readonly out: string
  readonly days?: number
}

export function addSimulate(program: Command, run: (options: SimulateOptions) => Promise<void>): void {
  program
    .command('simulate')
    .description('Write a record of the invented plant: register.yaml, stream.ndjson.gz, truth.json')
    .requiredOption('--seed <number>', 'whole number; the same seed gives the same bytes', wholeNumber(0))
    .requiredOption('--out <folder>', 'folder for the three files')
    .option('--days <number>', 'length of the record; default 60', wholeNumber(1, 400))
    .addHelpText(
      'after',
      `
Examples:
  turbidrift simulate --seed 1 --out plant
  turbidrift replay --register plant/register.yaml plant/stream.ndjson.gz --out events.ndjson`,
    )
    .action((options: SimulateOptions) => run(options))
}

export async function runSimulate(options: SimulateOptions, terminal: Terminal): Promise<number> {
  const { seed, out, days } = options
  const simulation = simulatePlant({ seed, ...(days === undefined ? {} : { days }) })
  await mkdir(out, { recursive: true })
  await writeFile(join(out, 'register.yaml'), simulation.registerYaml)
  await writeFile(join(out, 'truth.json'), simulation.truthJson)
  const writer = openLineWriter(join(out, 'stream.ndjson.gz'))
  let lines = 0
  for (const line of simulation.messages) {
    writer.write(line)
    lines += 1
    if (lines % FLUSH_EVERY === 0) await writer.flush()
  }
  await writer.close()
  terminal.tell(
    `${String(lines)} messages of ${simulation.register.name ?? simulation.register.plant} written to ${out}`,
  )
  return EXIT.ok
}

const FLUSH_EVERY = 5_000
