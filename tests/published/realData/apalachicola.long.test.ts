import { describeEstuary } from './estuary.js'

describeEstuary('two stations of a bay', 'estuary-apalachicola', ['apacpwq', 'apadbwq'])
