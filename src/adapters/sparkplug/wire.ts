import protobuf from 'protobufjs/light.js'

/** A number of 64 bits as protobufjs gives it. */
interface Bits64 {
  readonly low: number
  readonly high: number
}

/** A value as it travelled: the field of the protocol tells integers of 32 and 64 bits from fractions. */
export type WireValue =
  | { readonly field: 'int' | 'long'; readonly bits: bigint }
  | { readonly field: 'float' | 'double'; readonly number: number }
  | { readonly field: 'boolean'; readonly truth: boolean }
  | { readonly field: 'string'; readonly text: string }

export interface WireMetric {
  readonly name?: string
  readonly alias?: bigint
  /** Milliseconds since 1970; when the value was captured. */
  readonly timestampMs?: number
  readonly datatype?: number
  readonly isHistorical: boolean
  readonly isNull: boolean
  /** Absent with `isNull`, and where the metric holds what no reading is made of: bytes, tables, templates. */
  readonly value?: WireValue
  readonly properties: ReadonlyMap<string, WireValue>
}

export interface WirePayload {
  /** Milliseconds since 1970; when the message was sent. */
  readonly timestampMs?: number
  readonly seq?: number
  readonly metrics: readonly WireMetric[]
}

/**
 * Reads a payload of Sparkplug B. Fields that no reading is made of are passed over unread.
 * @returns undefined where the bytes are no such payload
 */
export function readPayload(bytes: Uint8Array): WirePayload | undefined {
  try {
    const message = PAYLOAD.decode(bytes) as unknown as PayloadMessage
    return {
      ...numbered('timestampMs', message, 'timestamp'),
      ...numbered('seq', message, 'seq'),
      metrics: message.metrics.map(toMetric),
    }
  } catch {
    // protobufjs throws errors of several kinds for bytes that end early or hold no such message.
    return undefined
  }
}

/**
 * The fields by their published numbers: Sparkplug 3.0.0, chapter 6.4.1. Built as proto2, where a field that was sent
 * as 0 can be told from one that was not sent: alias 0 and sequence number 0 are legal.
 */
const VALUE_FIELDS = ['int', 'long', 'float', 'double', 'boolean', 'string'] as const
const VALUE_TYPES = ['uint32', 'uint64', 'float', 'double', 'bool', 'string'] as const

function withValues(type: protobuf.Type, firstId: number): protobuf.Type {
  for (const [i, field] of VALUE_FIELDS.entries()) type.add(new protobuf.Field(field, firstId + i, VALUE_TYPES[i]!))
  return type
}

const PROPERTY_VALUE = withValues(
  new protobuf.Type('PropertyValue')
    .add(new protobuf.Field('type', 1, 'uint32'))
    .add(new protobuf.Field('isNull', 2, 'bool')),
  3,
)
const PROPERTY_SET = new protobuf.Type('PropertySet')
  .add(new protobuf.Field('keys', 1, 'string', 'repeated'))
  .add(new protobuf.Field('values', 2, 'PropertyValue', 'repeated'))
const METRIC = withValues(
  new protobuf.Type('Metric')
    .add(new protobuf.Field('name', 1, 'string'))
    .add(new protobuf.Field('alias', 2, 'uint64'))
    .add(new protobuf.Field('timestamp', 3, 'uint64'))
    .add(new protobuf.Field('datatype', 4, 'uint32'))
    .add(new protobuf.Field('isHistorical', 5, 'bool'))
    .add(new protobuf.Field('isNull', 7, 'bool'))
    .add(new protobuf.Field('properties', 9, 'PropertySet')),
  10,
)
const PAYLOAD = new protobuf.Type('Payload')
  .add(new protobuf.Field('timestamp', 1, 'uint64'))
  .add(new protobuf.Field('metrics', 2, 'Metric', 'repeated'))
  .add(new protobuf.Field('seq', 3, 'uint64'))
new protobuf.Root().add(PROPERTY_VALUE).add(PROPERTY_SET).add(METRIC).add(PAYLOAD).resolveAll()

interface PayloadMessage {
  readonly timestamp: Bits64
  readonly seq: Bits64
  readonly metrics: readonly MetricMessage[]
}

type ValueMessage = Readonly<Record<(typeof VALUE_FIELDS)[number], unknown>>

interface MetricMessage extends ValueMessage {
  readonly name: string
  readonly alias: Bits64
  readonly timestamp: Bits64
  readonly datatype: number
  readonly isHistorical: boolean
  readonly isNull: boolean
  readonly properties: { readonly keys: readonly string[]; readonly values: readonly ValueMessage[] } | null
}

function toMetric(message: MetricMessage): WireMetric {
  const value = message.isNull ? undefined : valueOf(message)
  return {
    ...(Object.hasOwn(message, 'name') && message.name !== '' ? { name: message.name } : {}),
    ...(Object.hasOwn(message, 'alias') ? { alias: toBigInt(message.alias) } : {}),
    ...numbered('timestampMs', message, 'timestamp'),
    ...(Object.hasOwn(message, 'datatype') ? { datatype: message.datatype } : {}),
    isHistorical: message.isHistorical,
    isNull: message.isNull,
    ...(value === undefined ? {} : { value }),
    properties: toProperties(message.properties),
  }
}

const NO_PROPERTIES: ReadonlyMap<string, WireValue> = new Map()

function toProperties(set: MetricMessage['properties']): ReadonlyMap<string, WireValue> {
  if (set === null || set.keys.length === 0) return NO_PROPERTIES
  const properties = new Map<string, WireValue>()
  for (const [i, key] of set.keys.entries()) {
    const value = set.values[i] === undefined ? undefined : valueOf(set.values[i])
    if (value !== undefined) properties.set(key, value)
  }
  return properties
}

function valueOf(message: ValueMessage): WireValue | undefined {
  const field = VALUE_FIELDS.find(each => Object.hasOwn(message, each))
  switch (field) {
    case undefined:
      return undefined
    case 'int':
      return { field, bits: BigInt(message.int as number) }
    case 'long':
      return { field, bits: toBigInt(message.long as Bits64) }
    case 'float':
    case 'double':
      return { field, number: message[field] as number }
    case 'boolean':
      return { field, truth: message.boolean as boolean }
    case 'string':
      return { field, text: message.string as string }
  }
}

function numbered<K extends string>(key: K, message: object, field: string): Partial<Record<K, number>> {
  if (!Object.hasOwn(message, field)) return {}
  return { [key]: Number(toBigInt((message as Record<string, Bits64>)[field]!)) } as Partial<Record<K, number>>
}

function toBigInt({ low, high }: Bits64): bigint {
  return (BigInt(high >>> 0) << 32n) | BigInt(low >>> 0)
}
