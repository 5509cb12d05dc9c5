import type { Command } from 'commander'
import { registerMessage } from '../../core/registerInput.js'
import { limitsOf, type PointLimits } from '../../detect/budget.js'
import { resolvePlant } from '../../model/plant.js'
import { roundSignificant } from '../../model/rounding.js'
import type { RegisterFile } from '../../model/register.js'
import { unusedFields } from '../../model/unusedFields.js'
import { textTable } from '../../report/terminal/textTable.js'
import { type Format, formatFor, formatOption, outJson } from '../format.js'
import { loadRegister } from '../readFiles.js'
import { loadConnected, tryConnections } from '../tryConnections.js'
import { EFFECT_TEXT, effectOf } from '../registerEffects.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface CheckOptions {
  readonly register: string
  readonly against?: string
  readonly connections?: string
  readonly connect?: boolean
  readonly format?: Format
}

export function addCheck(program: Command, run: (options: CheckOptions) => Promise<void>): void {
  program
    .command('check')
    .description('Check a register, every mistake at once, and show what its false-alarm budget means')
    .requiredOption('--register <file>', 'register.yaml')
    .option('--against <file>', 'the register in force: shows which fields differ and what that does to running charts')
    .option('--connections <file>', 'connections.yaml, as serve is given it')
    .option('--connect', 'try each connection and say what is wrong with it; takes some seconds')
    .addOption(formatOption())
    .addHelpText(
      'after',
      `
With --connect nothing is published but on topics under turbidrift/<plant>/check/, and no event is sent.

Examples:
  turbidrift check --register register.yaml
  turbidrift check --register new.yaml --against register.yaml
  turbidrift check --connect --register register.yaml --connections connections.yaml`,
    )
    .action((options: CheckOptions) => run(options))
}

export async function runCheck(options: CheckOptions, terminal: Terminal): Promise<number> {
  const file = await loadRegister(options.register, terminal)
  const before = options.against === undefined ? undefined : await loadRegister(options.against, terminal)
  if (file === undefined || (options.against !== undefined && before === undefined)) return EXIT.refused
  const isAsked = options.connect === true || options.connections !== undefined
  const connected = isAsked ? await loadConnected(file, options.connections, terminal) : undefined
  if (isAsked && connected === undefined) return EXIT.refused
  const unused = unusedFields(file)
  if (unused.length > 0) terminal.tell(`note: kept, not used yet: ${unused.join(', ')}`)
  const format = formatFor(terminal, options.format)
  const limits = limitsOf(resolvePlant(file))
  if (format === 'ndjson') showMachines(file, before, limits, terminal)
  else showPeople(file, before, limits, terminal)
  if (options.connect !== true || connected === undefined) return EXIT.ok
  return tryConnections(file.plant, connected, format, terminal)
}

function showMachines(
  file: RegisterFile,
  before: RegisterFile | undefined,
  limits: readonly PointLimits[],
  terminal: Terminal,
): void {
  for (const { lines, falseOpeningsPerMonth, ...point } of limits) {
    outJson(terminal, {
      ...point,
      falseOpeningsPerMonth: roundSignificant(falseOpeningsPerMonth, 3),
      lines: lines.map(line => ({
        ...line,
        valuesPerDay: roundSignificant(line.valuesPerDay, 3),
        s: roundSignificant(line.s, 3),
        limit: roundSignificant(line.limit, 4),
        arl: Math.round(line.arl),
      })),
    })
  }
  for (const path of before === undefined ? [] : registerMessage(file, before).changed) {
    outJson(terminal, { changed: path, effect: effectOf(path) })
  }
}

const LIMIT_COLUMNS = [
  { head: 'Point', width: 12 },
  { head: 'Chart', width: 9 },
  { head: 'Values a day', width: 8 },
  { head: 'Tolerance over uncertainty of a value', width: 15 },
  { head: 'Limit', width: 8 },
  { head: 'Values per false signal of one side', width: 14 },
  { head: 'False openings a month', width: 10 },
]

function showPeople(
  file: RegisterFile,
  before: RegisterFile | undefined,
  limits: readonly PointLimits[],
  terminal: Terminal,
): void {
  const rows = limits.flatMap(({ point, lines, falseOpeningsPerMonth }) =>
    lines.map((line, index) => [
      index === 0 ? point : '',
      line.line,
      String(roundSignificant(line.valuesPerDay, 3)),
      String(roundSignificant(line.s, 3)),
      String(roundSignificant(line.limit, 4)),
      String(Math.round(line.arl)),
      index === 0 ? String(roundSignificant(falseOpeningsPerMonth, 2)) : '',
    ]),
  )
  const analyzers = limits.reduce((sum, point) => sum + point.analyzers, 0)
  const monthly = limits.reduce((sum, point) => sum + point.falseOpeningsPerMonth, 0)
  const years = file.falseAlarmBudget?.analyzerYearsPerFalseAlarm ?? 5
  terminal.out(`${textTable(LIMIT_COLUMNS, rows)}
The register is in order: ${count(limits.length, 'point')}, ${count(analyzers, 'analyzer')}.
With one false opening in ${String(years)} analyzer-years, expect at most ${String(roundSignificant(monthly, 2))} a month in the plant.
`)
  if (before === undefined) return
  const { changed } = registerMessage(file, before)
  if (changed.length === 0) terminal.out('No field differs.\n')
  else
    terminal.out(
      `${textTable(
        CHANGE_COLUMNS,
        changed.map(path => [path, EFFECT_TEXT[effectOf(path)]]),
      )}\n`,
    )
}

const CHANGE_COLUMNS = [
  { head: 'Changed', width: 46 },
  { head: 'Effect', width: 46 },
]

function count(n: number, what: string): string {
  return `${String(n)} ${what}${n === 1 ? '' : 's'}`
}
