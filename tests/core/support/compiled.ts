import { mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, symlinkSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import ts from 'typescript'

const ROOT = fileURLToPath(new URL('../../../', import.meta.url))
const FOLDERS = ['model', 'statistics', 'qualify', 'compare', 'detect', 'diagnose', 'recommend', 'core']

export interface Compiled {
  readonly folder: string
  readonly remove: () => void
}

/** The core as JavaScript in a folder of its own, for processes that have no test runner to read TypeScript for them. */
export function compileCore(): Compiled {
  const top = mkdtempSync(join(tmpdir(), 'core-'))
  symlinkSync(join(ROOT, 'node_modules'), join(top, 'node_modules'), 'junction')
  writeFileSync(join(top, 'package.json'), '{ "type": "module" }\n')
  const folder = join(top, 'dist')
  for (const name of FOLDERS) {
    for (const file of readdirSync(join(ROOT, 'src', name), { recursive: true, encoding: 'utf8' })) {
      if (!file.endsWith('.ts')) continue
      const { outputText } = ts.transpileModule(readFileSync(join(ROOT, 'src', name, file), 'utf8'), {
        compilerOptions: { target: ts.ScriptTarget.ES2022, module: ts.ModuleKind.ESNext, verbatimModuleSyntax: true },
      })
      const target = join(folder, name, file.replace(/\.ts$/, '.js'))
      mkdirSync(dirname(target), { recursive: true })
      writeFileSync(target, outputText)
    }
  }
  return { folder, remove: () => rmSync(top, { recursive: true, force: true }) }
}
