import { writeFile } from 'node:fs/promises'
import type { Command } from 'commander'
import { sayIoError } from '../../adapters/inputFiles.js'
import { explainAnalyzer, explainRecommendation } from '../../core/explain.js'
import type { Explanation } from '../../core/explanation.js'
import type { PlantState } from '../../core/plantState.js'
import { renderEvidencePage } from '../../report/evidencePage.js'
import { renderExplanationText } from '../../report/terminal/explanationText.js'
import { type Format, formatFor, formatOption, outJson } from '../format.js'
import { addStateOptions, loadState, type StateOptions } from '../loadState.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface ExplainOptions extends StateOptions {
  readonly subject: string
  readonly html?: string
  readonly format?: Format
}

export function addExplain(program: Command, run: (options: ExplainOptions) => Promise<void>): void {
  addStateOptions(
    program
      .command('explain')
      .description('Why something is recommended for an analyzer, or why not: every line, its value and its limit')
      .argument('<subject>', 'analyzer, or id of a recommendation')
      .argument('[input...]', 'NDJSON or CSV to replay instead of a store; - for standard input')
      .option('--html <file>', 'write the evidence as a page of its own, with pictures; - for standard output'),
  )
    .addOption(formatOption())
    .addHelpText(
      'after',
      `
Examples:
  turbidrift explain FE3-B
  turbidrift explain FE3-B --at 2026-05-09T10:15:00Z --html FE3-B.html
  turbidrift explain CFE-A --register register.yaml stream.ndjson.gz`,
    )
    .action((subject: string, inputs: string[], options: Omit<ExplainOptions, 'inputs' | 'subject'>) =>
      run({ ...options, subject, inputs }),
    )
}

export async function runExplain(options: ExplainOptions, terminal: Terminal): Promise<number> {
  const state = await loadState(options, terminal)
  if (typeof state === 'number') return state
  const { subject, html } = options
  const explanation = explainAnalyzer(state, subject) ?? explainRecommendation(state, subject)
  if (explanation === undefined) {
    terminal.tell(`${subject}: no analyzer or recommendation of that name. Analyzers: ${namesOf(state)}`)
    return EXIT.notFound
  }
  if (html !== undefined) return writePage(explanation, html, terminal)
  if (formatFor(terminal, options.format) === 'table') terminal.out(renderExplanationText(explanation))
  else outJson(terminal, explanation)
  return EXIT.ok
}

async function writePage(explanation: Explanation, path: string, terminal: Terminal): Promise<number> {
  const page = renderEvidencePage(explanation)
  if (path === '-') {
    terminal.out(page)
    return EXIT.ok
  }
  try {
    await writeFile(path, page)
    terminal.tell(`written to ${path}`)
    return EXIT.ok
  } catch (error) {
    terminal.tell(`${path}: ${sayIoError(error as NodeJS.ErrnoException)}`)
    return EXIT.refused
  }
}

function namesOf(state: PlantState): string {
  return [...(state.register?.plant.analyzers.keys() ?? [])].join(', ')
}
