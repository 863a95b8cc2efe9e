"use strict";
// A link carries the code after the #, which browsers never send: it stays out of every log.
const code = decodeURIComponent(location.hash.slice(1));
if (code) document.getElementById("code").value = code;
