import { writeFile } from 'node:fs/promises'
import type { Command } from 'commander'
import { sayIoError } from '../../adapters/inputFiles.js'
import { explainAnalyzer, explainRecommendation } from '../../core/explain.js'
import { visitSheetOf } from '../../report/visit/visitSheet.js'
import { renderVisitSheetPage } from '../../report/visit/visitSheetPage.js'
import { renderVisitSheetText } from '../../report/visit/visitSheetText.js'
import { addStateOptions, loadState, type StateOptions } from '../loadState.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface VisitSheetOptions extends StateOptions {
  readonly subject: string
  readonly html?: string
}

export function addVisitSheet(program: Command, run: (options: VisitSheetOptions) => Promise<void>): void {
  addStateOptions(
    program
      .command('visit-sheet')
      .description(
        'The sheet for the visit a request asks for: why, what to bring, steps, blanks, the file to hand back',
      )
      .argument('<subject>', 'analyzer, or id of a recommendation')
      .argument('[input...]', 'NDJSON or CSV to replay instead of a store; - for standard input')
      .option('--html <file>', 'write it as one page for print; - for standard output'),
  )
    .addHelpText(
      'after',
      `
Examples:
  turbidrift visit-sheet FE3-B
  turbidrift visit-sheet FE3-B --html FE3-B-visit.html
  turbidrift visit-sheet CFE-A --register register.yaml stream.ndjson.gz`,
    )
    .action((subject: string, inputs: string[], options: Omit<VisitSheetOptions, 'inputs' | 'subject'>) =>
      run({ ...options, subject, inputs }),
    )
}

export async function runVisitSheet(options: VisitSheetOptions, terminal: Terminal): Promise<number> {
  const state = await loadState(options, terminal)
  if (typeof state === 'number') return state
  const { subject, html } = options
  const explanation = explainAnalyzer(state, subject) ?? explainRecommendation(state, subject)
  if (explanation === undefined) {
    terminal.tell(`${subject}: no analyzer or recommendation of that name`)
    return EXIT.notFound
  }
  const unit = state.register?.plant.analyzers.get(explanation.analyzer)?.unit ?? 'NTU'
  const sheet = visitSheetOf(explanation, unit)
  if (sheet === undefined) {
    terminal.tell(`${subject}: no visit is asked for. ${explanation.status.summary}`)
    return EXIT.notFound
  }
  if (html === undefined || html === '-') {
    terminal.out(html === undefined ? renderVisitSheetText(sheet) : renderVisitSheetPage(sheet))
    return EXIT.ok
  }
  try {
    await writeFile(html, renderVisitSheetPage(sheet))
    terminal.tell(`written to ${html}`)
    return EXIT.ok
  } catch (error) {
    terminal.tell(`${html}: ${sayIoError(error as NodeJS.ErrnoException)}`)
    return EXIT.refused
  }
}
