import { Command, CommanderError } from 'commander'
import { isIoError, sayIoError } from '../adapters/inputFiles.js'
import { SOFTWARE_VERSION } from '../service/version.js'
import { addBridge } from './commands/bridge.js'
import { addChartLimits, runChartLimits } from './commands/chartLimits.js'
import { addCheck, runCheck } from './commands/check.js'
import { addContract, runContract } from './commands/contract.js'
import { addCorrection, runCorrection } from './commands/correction.js'
import { addDemo } from './commands/demo.js'
import { addDilution, runDilution } from './commands/dilution.js'
import { addExplain, runExplain } from './commands/explain.js'
import { addExportJournal, runExportJournal } from './commands/exportJournal.js'
import { addPlan, runPlan } from './commands/plan.js'
import { addRecord, runRecord } from './commands/record.js'
import { addRegister, runDraft } from './commands/register.js'
import { addReplay, runReplay } from './commands/replay.js'
import { addScorecard, runScorecard } from './commands/scorecard.js'
import { addServe } from './commands/serve.js'
import { addSimulate, runSimulate } from './commands/simulate.js'
import { addStatus, runStatus } from './commands/status.js'
import { addVisitSheet, runVisitSheet } from './commands/visitSheet.js'
import { EXIT, EXIT_HELP, type Terminal } from './terminal.js'

export interface Program {
  /** @param args what stands after the name of the program  @returns exit code */
  readonly run: (args: readonly string[]) => Promise<number>
}

/** All commands, writing to the terminal given. */
export function buildProgram(terminal: Terminal): Program {
  let code: number = EXIT.ok
  const keep = async (running: Promise<number>): Promise<void> => {
    code = await running
  }
  const program = new Command('turbidrift')
    .description('Tells when an on-line turbidity analyzer really needs cleaning or calibration, with evidence')
    .version(SOFTWARE_VERSION)
    .exitOverride()
    .configureOutput({ writeOut: terminal.out, writeErr: text => terminal.tell(text.trimEnd()) })
    .showHelpAfterError('(--help shows how it is used)')
    .addHelpText('after', EXIT_HELP)
  addServe(program, keep)
  addBridge(program, keep)
  addReplay(program, options => keep(runReplay(options, terminal)))
  addCheck(program, options => keep(runCheck(options, terminal)))
  addStatus(program, options => keep(runStatus(options, terminal)))
  addExplain(program, options => keep(runExplain(options, terminal)))
  addPlan(program, options => keep(runPlan(options, terminal)))
  addCorrection(program, options => keep(runCorrection(options, terminal)))
  addScorecard(program, options => keep(runScorecard(options, terminal)))
  addVisitSheet(program, options => keep(runVisitSheet(options, terminal)))
  addRecord(program, (form, options) => keep(runRecord(form, options, terminal)))
  addRegister(program, options => keep(runDraft(options, terminal)))
  addExportJournal(program, options => keep(runExportJournal(options, terminal)))
  addContract(program, options => keep(runContract(options, terminal)))
  addChartLimits(program, options => keep(runChartLimits(options, terminal)))
  addDilution(program, options => keep(runDilution(options, terminal)))
  addSimulate(program, options => keep(runSimulate(options, terminal)))
  addDemo(program, keep)
  return {
    run: async args => {
      try {
        await program.parseAsync(args, { from: 'user' })
        return code
      } catch (error) {
        if (error instanceof CommanderError) return error.exitCode === 0 ? EXIT.ok : EXIT.usage
        if (!isIoError(error)) throw error
        terminal.tell(`${error.path ?? 'output'}: ${sayIoError(error)}`)
        return EXIT.refused
      }
    },
  }
}
