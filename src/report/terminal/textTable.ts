import Table from 'cli-table3'
import { wrapText } from './wrap.js'

/** A row of cells, or one text across the whole table. */
export type TextRow = readonly string[] | string

export interface Column {
  readonly head: string
  /** Characters of text; frame and spaces come on top. */
  readonly width: number
}

/**
 * A framed table without colour codes, as wide as its columns say.
 * @param ruled whether a rule stands between rows; without, a long table stays on one screen
 */
export function textTable(columns: readonly Column[], rows: readonly TextRow[], ruled = true): string {
  const frame = 3
  const inner = columns.reduce((sum, { width }) => sum + width + frame, -frame)
  const table = new Table({
    head: columns.map(({ head, width }) => wrapText(head, width)),
    colWidths: columns.map(({ width }) => width + 2),
    style: { head: [], border: [] },
  })
  for (const row of rows) {
    if (typeof row === 'string') table.push([{ colSpan: columns.length, content: wrapText(row, inner) }])
    else table.push(row.map((text, index) => wrapText(text, columns[index]!.width)))
  }
  return ruled ? table.toString() : withoutRules(table.toString())
}

/** Only the rule under the heads stays. */
function withoutRules(text: string): string {
  const lines = text.split('\n')
  const first = lines.findIndex(line => line.startsWith('├'))
  return lines.filter((line, index) => index <= first || !line.startsWith('├')).join('\n')
}
