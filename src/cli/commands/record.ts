import { randomUUID } from 'node:crypto'
import { rename, stat, writeFile } from 'node:fs/promises'
import { join } from 'node:path'
import { type Command, InvalidArgumentError, Option } from 'commander'
import { checkMessage } from '../../adapters/checkMessage.js'
import { readNumber } from '../../adapters/csvCells.js'
import { sayIoError } from '../../adapters/inputFiles.js'
import { readTime } from '../../adapters/wallClock.js'
import { canonicalJson } from '../../model/canonicalJson.js'
import { sayFault } from '../../model/faults.js'
import { type Plant, resolvePlant } from '../../model/plant.js'
import { outJson } from '../format.js'
import { loadRegister } from '../readFiles.js'
import { type Asked, BEGIN, FORM_HELP, type Form, FORM_NAMES, FORMS } from '../recordForms.js'
import { recordIntoStore } from '../storeRecord.js'
import { EXIT, type Terminal } from '../terminal.js'

export interface RecordOptions {
  readonly register: string
  readonly drop?: string
  readonly into?: string
  /** Fields given as flags, as text. */
  readonly fields: Readonly<Record<string, string>>
}

export function addRecord(program: Command, run: (form: Form, options: RecordOptions) => Promise<void>): void {
  const record = program
    .command('record')
    .description('Check a grab sample, work, a standard or an answer and hand it in; asks for what is missing')
  for (const form of FORM_NAMES) {
    const command = record
      .command(form)
      .description(FORM_HELP[form].description)
      .requiredOption('--register <file>', 'register.yaml')
      .addOption(new Option('--drop <folder>', 'drop folder of the running service').conflicts('into'))
      .option(
        '--into <file>',
        'store of a service that is not running; without --drop and --into the record is only printed',
      )
    for (const { field, question } of FORMS[form]) command.option(`--${flagOf(field)} <value>`, question)
    command.addHelpText('after', FORM_HELP[form].examples).action((options: Record<string, string>) => {
      const fields = Object.fromEntries(
        FORMS[form].flatMap(({ field }) => {
          const given = options[attributeOf(field)]
          return given === undefined ? [] : [[field, given]]
        }),
      )
      const { register, drop, into } = options
      if (register === undefined) throw new InvalidArgumentError('needs --register.')
      return run(form, {
        register,
        fields,
        ...(drop === undefined ? {} : { drop }),
        ...(into === undefined ? {} : { into }),
      })
    })
  }
}

export async function runRecord(form: Form, options: RecordOptions, terminal: Terminal): Promise<number> {
  const file = await loadRegister(options.register, terminal)
  if (file === undefined) return EXIT.refused
  const plant = resolvePlant(file)
  const message = await gather(form, options.fields, plant, terminal)
  if (typeof message === 'string') {
    terminal.tell(message)
    return EXIT.refused
  }
  const faults = checkMessage(message, plant)
  if (faults.length > 0) {
    for (const fault of faults) terminal.tell(sayFault(fault))
    return EXIT.refused
  }
  return handIn(message, plant.plant, options, terminal)
}

async function handIn(message: object, plant: string, options: RecordOptions, terminal: Terminal): Promise<number> {
  const line = `${canonicalJson(message)}\n`
  const { drop, into } = options
  try {
    if (drop !== undefined) {
      if (!(await stat(drop)).isDirectory()) {
        terminal.tell(`${drop} is not a folder`)
        return EXIT.refused
      }
      // Under its last name the file is whole: the service reads it at any moment.
      const name = `record-${randomUUID()}.ndjson`
      await writeFile(join(drop, `.${name}`), line)
      await rename(join(drop, `.${name}`), join(drop, name))
      terminal.tell(`handed in as ${join(drop, name)}; it moves to done/ when it was taken`)
    } else if (into !== undefined) {
      const stored = recordIntoStore(into, plant, message, new Date().toISOString())
      terminal.tell(stored.sentence)
      return stored.ok ? EXIT.ok : EXIT.refused
    } else outJson(terminal, message)
    return EXIT.ok
  } catch (error) {
    terminal.tell(`${drop ?? ''}: ${sayIoError(error as NodeJS.ErrnoException)}`)
    return EXIT.refused
  }
}

/** The message of the fields given and asked for, or what is wrong with one of them. */
async function gather(
  form: Form,
  given: Readonly<Record<string, string>>,
  plant: Plant,
  terminal: Terminal,
): Promise<Record<string, unknown> | string> {
  const message: Record<string, unknown> = { ...BEGIN[form] }
  const complete = FORMS[form].every(({ field, needed }) => needed !== true || given[field] !== undefined)
  for (const asked of FORMS[form]) {
    let text = given[asked.field]
    if (text === undefined && !complete) {
      if (terminal.ask === undefined) {
        if (asked.needed === true) return `${form}.${asked.field}: nothing is refused: give --${flagOf(asked.field)}`
      } else text = await askUntilReadable(asked, form, plant, terminal, terminal.ask)
    }
    if (text === undefined || text === '') continue
    const read = readAnswer(asked, text, form, plant)
    if (!read.ok) return read.sentence
    setField(message, asked.field, read.value)
  }
  if (form === 'grab') message.unit ??= unitOfPoint(plant, message.point)
  if (form === 'standard') {
    const { reference } = message as { reference?: object }
    message.reference = { type: 'secondary_standard', ...reference }
  }
  if (form === 'response') message.time ??= new Date().toISOString()
  return message
}

async function askUntilReadable(
  asked: Asked,
  form: Form,
  plant: Plant,
  terminal: Terminal,
  ask: (question: string) => Promise<string>,
): Promise<string> {
  for (;;) {
    const text = await ask(`${asked.question}${asked.needed === true ? '' : ' (may stay empty)'}: `)
    if (text === '' && asked.needed !== true) return text
    const read = text === '' ? { ok: false as const, sentence: 'is needed' } : readAnswer(asked, text, form, plant)
    if (read.ok) return text
    terminal.tell(read.sentence)
  }
}

type Answer = { readonly ok: true; readonly value: unknown } | { readonly ok: false; readonly sentence: string }

function readAnswer(asked: Asked, text: string, form: Form, plant: Plant): Answer {
  const field = `${form}.${asked.field}`
  const refuse = (rule: string): Answer => ({ ok: false, sentence: `${field}: "${text}" is refused: ${rule}` })
  switch (asked.as) {
    case 'text':
      return { ok: true, value: text }
    case 'yesNo': {
      const yes = /^(y|yes|true)$/i.test(text)
      return yes || /^(n|no|false)$/i.test(text) ? { ok: true, value: yes } : refuse('must be yes or no')
    }
    case 'time': {
      const time = readTime(text, { written: 'text', timeZone: plant.timeZone, dateOrder: undefined })
      return time.ok ? { ok: true, value: new Date(time.atMs).toISOString() } : refuse(time.rule)
    }
    case 'result':
      if (/^[<>]/.test(text)) return { ok: true, value: text }
      return readAnswer({ ...asked, as: 'number' }, text, form, plant)
    case 'number': {
      const number = readNumber(field, text, { delimiter: ',', decimal: '.', qualities: {} })
      return number.ok ? { ok: true, value: number.value } : { ok: false, sentence: sayFault(number.fault) }
    }
  }
}

function setField(message: Record<string, unknown>, field: string, value: unknown): void {
  const [outer, inner] = field.split('.')
  if (inner === undefined) message[field] = value
  else ((message[outer!] ??= {}) as Record<string, unknown>)[inner] = value
}

function unitOfPoint(plant: Plant, point: unknown): string {
  const analyzer = plant.points.get(String(point))?.analyzers[0]
  return plant.analyzers.get(analyzer ?? '')?.unit ?? 'NTU'
}

/** `reference.type` is `--reference-type`, `asFound` is `--as-found`. */
function flagOf(field: string): string {
  return field.replace(/\./g, '-').replace(/[A-Z]/g, letter => `-${letter.toLowerCase()}`)
}

function attributeOf(field: string): string {
  return flagOf(field).replace(/-([a-z])/g, (_, letter: string) => letter.toUpperCase())
}
