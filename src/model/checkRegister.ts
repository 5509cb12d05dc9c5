import type { z } from 'zod'
import type { Fault } from './faults.js'
import { NAME_RULE } from './names.js'
import { publishedRule } from './publishedRules.js'
import { type RegisterFile, registerSchema } from './register.js'
import { metricFaults } from './sparkplugFeed.js'
import { showSetting } from './settingValue.js'
import { methodOf } from './units.js'

export type CheckedRegister =
  | {
      readonly ok: true
      readonly file: RegisterFile
      /** True but unusual: worth a look, no reason to refuse. */
      readonly warnings: readonly RegisterFault[]
    }
  | { readonly ok: false; readonly faults: readonly RegisterFault[] }

/** A fault with the path as keys, so that an editor or `check` can find its line. */
export interface RegisterFault extends Fault {
  readonly path: readonly (string | number)[]
}

/** Checks a parsed register.yaml: schema and the rules between fields, every mistake at once. Never throws. */
export function checkRegister(value: unknown): CheckedRegister {
  const hidden = hiddenKeys(value, [])
  if (hidden.length > 0) return { ok: false, faults: hidden }
  const parsed = registerSchema.safeParse(value)
  if (!parsed.success) return { ok: false, faults: parsed.error.issues.flatMap(issue => fromIssue(value, issue)) }
  const faults = crossFaults(parsed.data)
  return faults.length > 0 ? { ok: false, faults } : { ok: true, file: parsed.data, warnings: warnings(parsed.data) }
}

function fromIssue(value: unknown, issue: z.core.$ZodIssue): RegisterFault[] {
  const path = issue.path.map(key => (typeof key === 'symbol' ? String(key) : key))
  if (issue.code === 'unrecognized_keys') {
    return issue.keys.map(key =>
      fault([...path, key], valueAt(value, [...path, key]), 'is not a key of the register here'),
    )
  }
  return [fault(path, valueAt(value, path), issue.message)]
}

/** A key `__proto__` would be dropped on the way without a word. */
function hiddenKeys(value: unknown, path: readonly (string | number)[]): RegisterFault[] {
  if (typeof value !== 'object' || value === null) return []
  return Object.entries(value).flatMap(([key, member]) =>
    key === '__proto__' ? [fault([...path, key], key, `must be ${NAME_RULE}`)] : hiddenKeys(member, [...path, key]),
  )
}

function crossFaults(file: RegisterFile): RegisterFault[] {
  const faults: RegisterFault[] = []
  const owner = new Map<string, string>()
  for (const [pointId, point] of Object.entries(file.points)) {
    if (point.class !== undefined && !Object.hasOwn(file.classes ?? {}, point.class)) {
      faults.push(fault(['points', pointId, 'class'], point.class, 'must be one of the classes of the register'))
    }
    if (Object.keys(point.analyzers).length === 0)
      faults.push(fault(['points', pointId, 'analyzers'], {}, 'must name at least one analyzer'))
    faults.push(...methodFaults(pointId, point.analyzers), ...criteriaFaults(pointId, point.criteria ?? []))
    for (const [analyzerId, analyzer] of Object.entries(point.analyzers)) {
      const path = ['points', pointId, 'analyzers', analyzerId]
      const other = owner.get(analyzerId)
      if (other !== undefined)
        faults.push(fault(path, analyzerId, `stands at point ${other} already; an analyzer has one point`))
      owner.set(analyzerId, pointId)
      if (analyzer.rangeNtu !== undefined && analyzer.rangeNtu[0] >= analyzer.rangeNtu[1]) {
        faults.push(fault([...path, 'rangeNtu'], analyzer.rangeNtu, 'must be [lowest, highest] with the lowest first'))
      }
      if (
        analyzer.transmission !== 'on_change' &&
        (analyzer.deadbandNtu !== undefined || analyzer.heartbeatS !== undefined)
      ) {
        faults.push(
          fault(
            [...path, 'transmission'],
            analyzer.transmission,
            'must be on_change where deadbandNtu or heartbeatS is given',
          ),
        )
      }
    }
  }
  for (const [index, relation] of (file.related ?? []).entries()) {
    if (relation.upstream.includes(relation.downstream)) {
      faults.push(fault(['related', index, 'upstream'], relation.downstream, 'a point is not upstream of itself'))
    }
    for (const [key, id] of [['downstream', relation.downstream], ...relation.upstream.map(up => ['upstream', up])] as [
      string,
      string,
    ][]) {
      if (!Object.hasOwn(file.points, id))
        faults.push(fault(['related', index, key], id, 'must be a point of the register'))
    }
  }
  const standardIds = new Set<string>()
  for (const [index, standard] of (file.standards ?? []).entries()) {
    if (standardIds.has(standard.id)) faults.push(fault(['standards', index, 'id'], standard.id, 'is given twice'))
    standardIds.add(standard.id)
    if (standard.analyzer !== undefined && !owner.has(standard.analyzer)) {
      faults.push(fault(['standards', index, 'analyzer'], standard.analyzer, 'must be an analyzer of the register'))
    }
    if (standard.type === 'secondary_standard' && standard.analyzer === undefined) {
      faults.push(
        fault(
          ['standards', index, 'analyzer'],
          undefined,
          'a secondary standard is bound to the analyzer it was assigned on: name it',
        ),
      )
    }
  }
  const feedNames = new Set<string>()
  for (const [index, feed] of (file.feeds ?? []).entries()) {
    if (feedNames.has(feed.name)) faults.push(fault(['feeds', index, 'name'], feed.name, 'is given twice'))
    feedNames.add(feed.name)
    if (feed.url !== undefined && feed.connection !== undefined)
      faults.push(fault(['feeds', index, 'connection'], feed.connection, 'must be left out where url is given'))
    if (feed.type === 'sparkplug')
      for (const { path, value, rule } of metricFaults(feed.metrics, owner))
        faults.push(fault(['feeds', index, 'metrics', ...path], value, rule))
  }
  const usual = file.secondaryStandardUsualNtu
  if (usual !== undefined && usual[0] >= usual[1])
    faults.push(fault(['secondaryStandardUsualNtu'], usual, 'must be [lowest, highest] with the lowest first'))
  const delta0 = file.detection?.delta0 ?? 0.25
  const delta1 = file.detection?.delta1 ?? 0.6
  if (delta1 <= delta0)
    faults.push(fault(['detection', 'delta1'], delta1, `must be greater than delta0 (${String(delta0)})`))
  return faults
}

/** Two rules for the same grab samples would leave open which one the control room is told. */
function criteriaFaults(
  pointId: string,
  criteria: NonNullable<RegisterFile['points'][string]['criteria']>,
): RegisterFault[] {
  const substitutes = criteria.filter(one => publishedRule(one).kind === 'substitute_grabs')
  return criteria.flatMap((criterion, index) => {
    const path = ['points', pointId, 'criteria', index]
    if (criteria.indexOf(criterion) < index) return [fault(path, criterion, 'is given twice')]
    const other = substitutes.indexOf(criterion) > 0 ? substitutes[0] : undefined
    return other === undefined
      ? []
      : [fault(path, criterion, `must be one rule for grab samples in place of readings; ${other} stands already`)]
  })
}

type Analyzers = RegisterFile['points'][string]['analyzers']

/** Units of one point are compared with each other: ISO 7027-1 and white light agree on formazin only. */
function methodFaults(pointId: string, analyzers: Analyzers): RegisterFault[] {
  const [first, ...others] = Object.entries(analyzers)
  if (first === undefined) return []
  const method = methodOf(first[1].unit)
  return others
    .filter(([, { unit }]) => methodOf(unit) !== method)
    .map(([id, { unit }]) =>
      fault(
        ['points', pointId, 'analyzers', id, 'unit'],
        unit,
        `must be of the same method as ${first[0]} (${method}): NTU, FNU and FAU agree on formazin only; make it a point of its own`,
      ),
    )
}

/** Later analyzers of a point on a line that an earlier one has: what disturbs the line disturbs both. */
function sharedLines(pointId: string, analyzers: Analyzers): RegisterFault[] {
  const first = new Map<string, string>()
  return Object.entries(analyzers).flatMap(([id, { sampleLine }]) => {
    if (sampleLine === undefined) return []
    const other = first.get(sampleLine)
    if (other === undefined) first.set(sampleLine, id)
    return other === undefined
      ? []
      : [
          fault(
            ['points', pointId, 'analyzers', id, 'sampleLine'],
            sampleLine,
            `is the line of ${other} too: they are not independent, so together they are one voice and outvote nobody`,
          ),
        ]
  })
}

function warnings(file: RegisterFile): RegisterFault[] {
  return [
    ...Object.entries(file.points).flatMap(([id, point]) => sharedLines(id, point.analyzers)),
    ...unusualStandards(file),
  ]
}

function unusualStandards(file: RegisterFile): RegisterFault[] {
  const [least, most] = file.secondaryStandardUsualNtu ?? [30, 40]
  return (file.standards ?? []).flatMap((standard, index) =>
    standard.type === 'secondary_standard' && (standard.assignedNtu < least || standard.assignedNtu > most)
      ? [
          fault(
            ['standards', index, 'assignedNtu'],
            standard.assignedNtu,
            `is outside the usual ${String(least)} to ${String(most)} NTU (common practice, no source)`,
          ),
        ]
      : [],
  )
}

function fault(path: readonly (string | number)[], value: unknown, rule: string): RegisterFault {
  return {
    code: value === undefined ? 'missing_field' : 'invalid_field',
    field: path.map(String).join('.'),
    value: showSetting(path, value),
    rule,
    path,
  }
}

function valueAt(value: unknown, path: readonly (string | number)[]): unknown {
  let current: unknown = value
  for (const key of path) {
    if (typeof current !== 'object' || current === null || !Object.hasOwn(current, key)) return undefined
    current = (current as Record<string | number, unknown>)[key]
  }
  return current
}
