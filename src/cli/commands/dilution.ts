import { type Command, Option } from 'commander'
import { dilute, type Diluted, type Dilution, type Known, volumeToTake } from '../../compare/dilution.js'
import { roundSignificant } from '../../model/rounding.js'
import { DILUTION_CAUTIONS, DILUTION_HOLDING, dilutionSteps } from '../../recommend/dilutionSteps.js'
import { dilutionSentence, renderDilutionText } from '../../report/terminal/dilutionText.js'
import { uncertaintyOfLimits } from '../../statistics/propagation.js'
import { notNegative, positiveNumber } from '../arguments.js'
import { type Format, formatFor, formatOption, outJson } from '../format.js'
import { EXIT, type Terminal } from '../terminal.js'

/** As given: each vessel with its standard uncertainty or with the limits marked on it. NTU and mL. */
export interface DilutionOptions {
  readonly stock: number
  readonly stockU: number
  readonly water: number
  readonly waterU: number
  readonly flask: number
  readonly flaskU?: number
  readonly flaskLimits?: number
  readonly pipette?: number
  readonly target?: number
  readonly pipetteU?: number
  readonly pipetteLimits?: number
  readonly format?: Format
}

export function addDilution(program: Command, run: (options: DilutionOptions) => Promise<void>): void {
  program
    .command('dilution')
    .description('Value and standard uncertainty of a diluted standard, and the steps of making it up')
    .requiredOption('--stock <ntu>', 'value of the stock', positiveNumber)
    .requiredOption('--stock-u <ntu>', 'its standard uncertainty (half of an expanded one with k = 2)', notNegative)
    .requiredOption('--water <ntu>', 'turbidity of the dilution water, as read', notNegative)
    .requiredOption('--water-u <ntu>', 'its standard uncertainty', notNegative)
    .addOption(new Option('--pipette <ml>', 'volume of stock taken').argParser(positiveNumber).conflicts('target'))
    .option('--target <ntu>', 'value wanted; the volume to take is worked out', positiveNumber)
    .addOption(
      new Option('--pipette-u <ml>', 'standard uncertainty of the volume taken')
        .argParser(notNegative)
        .conflicts('pipetteLimits'),
    )
    .option('--pipette-limits <ml>', 'or the ± limits marked on the pipette', positiveNumber)
    .requiredOption('--flask <ml>', 'volume of the flask', positiveNumber)
    .addOption(
      new Option('--flask-u <ml>', 'standard uncertainty of that volume')
        .argParser(notNegative)
        .conflicts('flaskLimits'),
    )
    .option('--flask-limits <ml>', 'or the ± limits marked on the flask', positiveNumber)
    .addOption(formatOption())
    .addHelpText(
      'after',
      `
Marked limits ±a count as a/√6: values near the mark are likelier (JCGM 100:2008, 4.3.9). The class of the glassware,
its filling and reading by a practised hand are taken to lie inside them; where yours do not, state --pipette-u and
--flask-u.

Examples:
  turbidrift dilution --stock 4000 --stock-u 40 --water 0.02 --water-u 0.01 --pipette 5 --pipette-limits 0.015 \\
    --flask 1000 --flask-limits 0.4
  turbidrift dilution --stock 4000 --stock-u 40 --water 0.02 --water-u 0.01 --target 20 --pipette-u 0.01 \\
    --flask 1000 --flask-limits 0.4`,
    )
    .action((options: DilutionOptions) => run(options))
}

export async function runDilution(options: DilutionOptions, terminal: Terminal): Promise<number> {
  const dilution = readDilution(options)
  if (typeof dilution === 'string') {
    terminal.tell(dilution)
    return EXIT.usage
  }
  const made = dilute(dilution)
  if (formatFor(terminal, options.format) === 'table') terminal.out(renderDilutionText(dilution, made))
  else outJson(terminal, asData(dilution, made))
  return EXIT.ok
}

/** What is to be diluted, or which option stands against it. */
function readDilution(options: DilutionOptions): Dilution | string {
  const { stock, stockU, water, waterU, flask, target } = options
  if (stock <= water) return `--stock ${String(stock)} is refused: must be above the water (${String(water)} NTU)`
  if (options.pipette === undefined && target === undefined)
    return 'give --pipette, the volume taken, or --target, the value wanted'
  const taken = options.pipette ?? volumeToTake(target ?? 0, { stockNtu: stock, waterNtu: water, flaskMl: flask })
  if (taken === undefined)
    return `--target ${String(target)} is refused: must lie between water (${String(water)}) and stock (${String(stock)} NTU)`
  if (taken >= flask) return `--pipette ${String(taken)} is refused: must be less than the flask (${String(flask)} mL)`
  const pipetteU = volumeU(options.pipetteU, options.pipetteLimits)
  const flaskU = volumeU(options.flaskU, options.flaskLimits)
  if (pipetteU === undefined) return 'give --pipette-u or --pipette-limits'
  if (flaskU === undefined) return 'give --flask-u or --flask-limits'
  const known = (value: number, standardUncertainty: number): Known => ({ value, standardUncertainty })
  return {
    stockNtu: known(stock, stockU),
    waterNtu: known(water, waterU),
    takenMl: known(taken, pipetteU),
    flaskMl: known(flask, flaskU),
  }
}

function volumeU(standardUncertainty: number | undefined, limits: number | undefined): number | undefined {
  return standardUncertainty ?? (limits === undefined ? undefined : uncertaintyOfLimits(limits, 'triangular'))
}

function asData(dilution: Dilution, made: Diluted): object {
  return {
    summary: dilutionSentence(made),
    valueNtu: roundSignificant(made.valueNtu, 6),
    standardUncertaintyNtu: roundSignificant(made.standardUncertaintyNtu, 3),
    takenMl: roundSignificant(dilution.takenMl.value, 6),
    budget: made.budget.map(({ input, ntu, share }) => ({
      input,
      ntu: roundSignificant(ntu, 3),
      share: roundSignificant(share, 3),
    })),
    cautions: DILUTION_CAUTIONS,
    steps: dilutionSteps(dilution),
    holding: DILUTION_HOLDING,
  }
}
