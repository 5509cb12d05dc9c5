import { COLUMNS, wrapText } from '../terminal/wrap.js'
import type { VisitSheet } from './visitSheet.js'

const BLANK = '____________________'

/** The sheet for a terminal; the lines of the file to hand back are not wrapped, so that they can be copied. */
export function renderVisitSheetText(sheet: VisitSheet): string {
  const { title, why, facts, bring, cautions, steps, blanks, handBack, handBackNote } = sheet
  const longest = Math.max(...blanks.map(blank => blank.length))
  return `${[
    wrap(title),
    wrap(why),
    facts.map(wrap).join('\n'),
    section(
      'Cautions',
      cautions.map(caution => item('!', caution)),
    ),
    section(
      'Bring',
      bring.map(one => item('[ ]', one)),
    ),
    section(
      'Steps, in this order',
      steps.map((step, i) => item(`[ ] ${String(i + 1).padStart(2)}.`, step)),
    ),
    section(
      'Write down',
      blanks.map(blank => `${blank.padEnd(longest)}  ${BLANK}`),
    ),
    section('Hand back', [wrap(handBackNote), ...(handBack === undefined ? [] : [handBack.header, ...handBack.lines])]),
  ].join('\n\n')}\n`
}

function section(head: string, lines: readonly string[]): string {
  return [head.toUpperCase(), ...lines].join('\n')
}

function item(label: string, text: string): string {
  const indent = ' '.repeat(label.length + 1)
  return `${label} ${wrapText(text, COLUMNS - indent.length).replaceAll('\n', `\n${indent}`)}`
}

function wrap(text: string): string {
  return wrapText(text, COLUMNS)
}
