import { Document, isMap, isScalar, type YAMLMap } from 'yaml'
import type { RegisterFile } from '../model/register.js'

/** The register as a person would write it: one line for each analyzer and standard, a remark where one is needed. */
export function registerText(register: RegisterFile): string {
  const document = new Document(register)
  document.commentBefore = ` Register of an invented plant. Names, serials and numbers are made up.`
  remark(document, ['timeZone'], ' only for laboratory times without offset, shifts and calendar days')
  remark(document, ['classes'], ' What all points of a class share. Tolerance is the larger of both parts.')
  remark(document, ['related'], ' The six filters feed the combined effluent.')
  remark(document, ['standards'], ' A secondary standard belongs to the analyzer it was assigned on.')
  remark(document, ['points', 'BW'], ' No grab samples are taken here: nothing independent to compare with.')
  for (const path of onOneLine(register)) {
    const node = document.getIn(path, true)
    if (isMap(node)) node.flow = true
  }
  for (const list of [['shifts'], ...listsOfPoints(register)]) {
    const node = document.getIn(list, true)
    if (typeof node === 'object' && node !== null) (node as YAMLMap).flow = true
  }
  for (let shift = 0; shift < (register.shifts?.length ?? 0); shift++) {
    const node = document.getIn(['shifts', shift], true)
    // Older readers of YAML take a bare 14:00 for a number to the base of 60.
    if (isScalar(node)) node.type = 'QUOTE_DOUBLE'
  }
  return document.toString({ lineWidth: 0, flowCollectionPadding: true })
}

function remark(document: Document, path: readonly string[], text: string): void {
  const parent = document.getIn(path.slice(0, -1), true) as YAMLMap
  const map = path.length === 1 ? (document.contents as YAMLMap) : parent
  const pair = map.items.find(item => String(item.key) === path.at(-1))
  const key = pair?.key
  if (typeof key === 'object' && key !== null) (key as { commentBefore?: string }).commentBefore = text
}

function onOneLine(register: RegisterFile): (string | number)[][] {
  return [
    ['falseAlarmBudget'],
    ['zeroRule'],
    ...Object.keys(register.classes ?? {}).flatMap(name => [
      ['classes', name, 'tolerance'],
      ['classes', name, 'grab'],
    ]),
    ...Object.entries(register.points).flatMap(([id, point]) => [
      ['points', id, 'grab'],
      ['points', id, 'tolerance'],
      ['points', id, 'required'],
      ...Object.keys(point.analyzers).map(analyzer => ['points', id, 'analyzers', analyzer]),
    ]),
    ...(register.related ?? []).map((_, index) => ['related', index]),
    ...(register.standards ?? []).map((_, index) => ['standards', index]),
  ]
}

function listsOfPoints(register: RegisterFile): string[][] {
  return Object.keys(register.points).flatMap(id => [
    ['points', id, 'actionLevelsNtu'],
    ['points', id, 'use'],
  ])
}
